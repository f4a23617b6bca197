"""The certificate of a wipe, with every field of NIST SP 800-88 Rev. 1 s.4.8. Called outside any transaction."""

from __future__ import annotations

import hashlib
import json
from datetime import datetime

from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Profile
from labcases.lab.roles import Right
from labcases.paper.actions import freeze
from labcases.paper.models import Paper
from labcases.stock.actions.refusals import NotNow
from labcases.stock.models import Wipe
from labcases.stock.wiping.queries import certificate

KIND, TITLE, TEMPLATE = "sanitisation-certificate", "Certificate of sanitisation", "paper/sanitisation_certificate.html"
LANGUAGE = "en-GB"


def print_certificate(wipe: Wipe, *, told: dict[str, str], by: Actor, issued: datetime) -> Paper:
    """The certificate of a verified wipe; asked for again with the same words, it is the same paper.

    Raises NotNow when the wipe is not verified, or what ``paper.actions.freeze`` raises.
    """
    by.must(Right.KEEP_STOCK)
    if wipe.state != Wipe.State.VERIFIED:
        said = f"The wipe of {wipe.destination} is {wipe.get_state_display()}: there is nothing to certify."
        raise NotNow(said, mend="Verify it first.")
    digest = hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()[:12]
    key = f"{KIND}/{wipe.pk}/{digest}"
    if earlier := Paper.objects.filter(key=key).first():
        return earlier
    paper = freeze(
        key=key,
        kind=KIND,
        template=TEMPLATE,
        context={"certificate": certificate(wipe, told)},
        title=TITLE,
        language=LANGUAGE,
        size=Profile.current().paper_size,
        code=str(wipe.destination),
        by=by,
        issued=issued,
        thing=wipe.destination.thing,
        case_code=wipe.case.code if wipe.case else "",
    )
    _note(wipe, by=by, happened=issued)
    return paper


@recorded
def _note(wipe: Wipe, *, by: Actor, happened: datetime) -> None:
    because = f"{TITLE} of {wipe.destination}"
    case = wipe.case.code if wipe.case else None
    record("paper-printed", thing=wipe.destination.thing, by=by, happened=happened, because=because, case=case)
