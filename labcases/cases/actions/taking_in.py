"""The counter's first verb: log a drive, and finish its intake later."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from labcases.cases.actions.enquiring import became
from labcases.cases.actions.opening import add_accessory, add_item, move_docket, open_case, where
from labcases.cases.actions.telling import close_intake_if_nothing_is_missing, mark_finished, note_signed, note_told
from labcases.cases.intake import NewItem, Signed, Told
from labcases.cases.models import Case, Enquiry
from labcases.cases.pads.models import ReservedCode
from labcases.cases.stages import Stage
from labcases.custody.actions import record, record_many, recorded
from labcases.custody.models import Event, Thing
from labcases.lab.models import Actor, Place
from labcases.lab.roles import Right
from labcases.people.models import Party


@recorded
def log_drive(
    *,
    owner: Party,
    items: Sequence[NewItem],
    by: Actor,
    happened: datetime,
    bearer: Party | None = None,
    payer: Party | None = None,
    way: str = Case.Way.COUNTER,
    urgency: str = Case.Urgency.NORMAL,
    promised: date | None = None,
    reference: str = "",
    letterhead: bool = True,
    told: Told | None = None,
    signed: Signed | None = None,
    accessories: Sequence[tuple[str, int]] = (),
    at: Place | None = None,
    enquiry: Enquiry | None = None,
    reserved: ReservedCode | None = None,
) -> Case:
    """Take one or several media in: a case, its items, what came along, and what was told and signed so far.

    Each thing goes from the bearer's hands to the place ``at`` (the counter when left out, else to whoever takes it).
    With ``reserved`` it is typed in from a sheet of a paper pad: the case gets that very code.
    Raises NothingToTakeIn without an item, and what ``pads.actions.must_be_free`` raises.
    """
    by.must(Right.TAKE_IN)
    case = open_case(
        owner, items, by, happened, bearer=bearer, payer=payer, way=way, urgency=urgency, promised=promised,
        reference=reference, letterhead=letterhead, reserved=reserved,
    )  # fmt: skip
    to = where(at, by)
    made = [add_item(case, new, number, Stage.RECEIVED, by, happened) for number, new in enumerate(items, 1)]
    record_many("received", things=[i.thing for i in made], by=by, happened=happened, to=to, case=case.code)
    move_docket(case, to)
    for words, count in accessories:
        add_accessory(case, words, count, by, happened, to)
    note_told(case, told)
    if signed:
        note_signed(case, signed, by, happened)
    close_intake_if_nothing_is_missing(case, happened)
    if enquiry:
        became(enquiry, case)
    return case


@recorded
def complete_intake(
    *,
    case: Case,
    by: Actor,
    happened: datetime,
    told: Told | None = None,
    signed: Signed | None = None,
    finished: bool = False,
) -> Case:
    """The rest of an intake. With ``finished`` what is still blank counts as asked and not known."""
    by.must(Right.TAKE_IN)
    note_told(case, told)
    if signed:
        note_signed(case, signed, by, happened)
    if finished and case.intake_finished is None:
        mark_finished(case, happened)
        record("intake-finished", thing=case.thing, by=by, happened=happened, case=case.code)
    else:
        close_intake_if_nothing_is_missing(case, happened)
    return case


@recorded
def note_printed(*, case: Case, what: str, by: Actor, happened: datetime) -> Case:
    """A paper of this case was printed."""
    by.must(Right.TAKE_IN)
    record("paper-printed", thing=case.thing, by=by, happened=happened, because=what, case=case.code)
    return case


@recorded
def note_labelled(*, case: Case, things: Sequence[Thing], by: Actor, happened: datetime) -> list[Event]:
    """Labels were printed for these things of the case: each of their lines says so."""
    by.must(Right.TAKE_IN)
    return record_many("labelled", things=things, by=by, happened=happened, case=case.code)
