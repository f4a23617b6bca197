"""What was told and signed is written down, and the intake closed when nothing is missing."""

from __future__ import annotations

from datetime import datetime

from labcases.cases import queries
from labcases.cases.intake import Signed, Told
from labcases.cases.models import Case, Lock, Wanted
from labcases.cases.scans.actions import keep_signed_paper
from labcases.core import vault
from labcases.core.refused import Refused
from labcases.custody.actions import record
from labcases.lab.models import Actor, TermsVersion


def note_told(case: Case, told: Told | None) -> None:
    """What was told now is added; nothing told before is emptied."""
    if told is None:
        return
    for name in ("stories", "tried"):
        setattr(case, name, list(getattr(told, name)) or getattr(case, name))
    for name in ("story", "story_when", "powered_since", "wanted_about", "partial_is_worth"):
        setattr(case, name, getattr(told, name) or getattr(case, name))
    case.save(
        update_fields=["stories", "tried", "story", "story_when", "powered_since", "wanted_about", "partial_is_worth"]
    )
    first = case.wanted.count() + 1
    Wanted.objects.bulk_create(
        [Wanted(case=case, number=n, what=line.what, urgent=line.urgent) for n, line in enumerate(told.wanted, first)]
    )
    Lock.objects.bulk_create([Lock(case=case, kind=kind, customer_knows=knows) for kind, knows in told.locks])


def note_signed(case: Case, signed: Signed, by: Actor, happened: datetime) -> None:
    """The newest terms are signed. Raises Refused while the lab has none."""
    terms = TermsVersion.objects.order_by("-since", "-pk").first()
    if terms is None:
        raise Refused(
            "There are no terms to sign yet.", mend="A manager publishes the lab's terms first (Office, the lab)."
        )
    case.terms, case.terms_signed = terms, happened
    case.signed_by, case.signed_how = signed.signed_by, signed.how
    case.signature = vault.put(signed.signature) if signed.signature else ""
    for name in ("may_examine", "may_open", "may_keep_dead", "spending_limit"):
        setattr(case, name, getattr(signed, name))
    case.save(
        update_fields=[
            "terms", "terms_signed", "signed_by", "signed_how", "signature", "may_examine", "may_open", "may_keep_dead",
            "spending_limit",
        ]
    )  # fmt: skip
    allowed = ["examine"] * signed.may_examine + ["open for inspection in clean air"] * signed.may_open
    because = f"terms {terms.version}; allows to {' and '.join(allowed) or 'keep it safe'}"
    record(
        "terms-signed",
        thing=case.thing,
        by=by,
        happened=happened,
        because=because,
        authority=f"{signed.signed_by}, under the text of SHA-256 {terms.digest}",
        case=case.code,
    )
    if signed.scan:
        keep_signed_paper(case=case, scan=signed.scan, by=by, happened=happened)


def close_intake_if_nothing_is_missing(case: Case, happened: datetime) -> None:
    """Nobody needs to press “finished” when every part was asked."""
    if case.intake_finished is None and not queries.still_missing(case):
        mark_finished(case, happened)


def mark_finished(case: Case, happened: datetime) -> None:
    """From now on the intake is no longer listed as unfinished."""
    case.intake_finished = happened
    case.save(update_fields=["intake_finished"])
