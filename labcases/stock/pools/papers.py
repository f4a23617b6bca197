"""The certificate of an image that was erased by destroying its key. Called outside any transaction."""

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
from labcases.stock.pools.models import PoolImage
from labcases.stock.pools.queries import certificate
from labcases.stock.wiping.papers import LANGUAGE, TEMPLATE, TITLE

KIND = "erasure-certificate"


def print_certificate(image: PoolImage, *, told: dict[str, str], by: Actor, issued: datetime) -> Paper:
    """The certificate of an erased image; asked for again with the same words, it is the same paper. Raises NotNow."""
    by.must(Right.KEEP_STOCK)
    if image.end != PoolImage.End.ERASED:
        raise NotNow(f"The {image} is not erased: there is nothing to certify.", mend="Erase it first.")
    digest = hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()[:12]
    key, case = f"{KIND}/{image.pk}/{digest}", image.item.case
    if earlier := Paper.objects.filter(key=key).first():
        return earlier
    paper = freeze(
        key=key,
        kind=KIND,
        template=TEMPLATE,
        context={"certificate": certificate(image, told)},
        title=TITLE,
        language=LANGUAGE,
        size=Profile.current().paper_size,
        code=str(image.item),
        by=by,
        issued=issued,
        thing=image.item.thing,
        case_code=case.code,
    )
    _note(image, by=by, happened=issued)
    return paper


@recorded
def _note(image: PoolImage, *, by: Actor, happened: datetime) -> None:
    item = image.item
    record(
        "paper-printed", thing=item.thing, by=by, happened=happened, because=f"{TITLE}, {image}", case=item.case.code
    )
