"""Stops of a whole case: disputed ownership, and an order that holds it."""

from __future__ import annotations

from datetime import datetime

from labcases.cases.models import Case
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor
from labcases.lab.roles import Right


@recorded
def dispute(*, case: Case, by: Actor, happened: datetime, because: str) -> Case:
    """Ownership is disputed: nothing is released until it is settled."""
    by.must(Right.TAKE_IN)
    return _set_stop(case, "disputed", True, "ownership-disputed", by, happened, because)


@recorded
def settle_dispute(*, case: Case, by: Actor, happened: datetime, because: str) -> Case:
    by.must(Right.LIFT_STOP)
    return _set_stop(case, "disputed", False, "dispute-settled", by, happened, because)


@recorded
def hold_by_law(*, case: Case, by: Actor, happened: datetime, because: str) -> Case:
    """An order holds the case. The app records it and gives no legal advice."""
    if not by.may(Right.TAKE_IN):
        by.must(Right.LIFT_STOP)
    return _set_stop(case, "legal_hold", True, "held-by-law", by, happened, because)


@recorded
def end_hold(*, case: Case, by: Actor, happened: datetime, because: str) -> Case:
    by.must(Right.LIFT_STOP)
    return _set_stop(case, "legal_hold", False, "hold-ended", by, happened, because)


def _set_stop(case: Case, field: str, value: bool, kind: str, by: Actor, happened: datetime, because: str) -> Case:
    setattr(case, field, value)
    case.stop_words = because
    case.save(update_fields=[field, "stop_words"])
    record(kind, thing=case.thing, by=by, happened=happened, because=because, case=case.code)
    return case
