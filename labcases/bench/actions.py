"""The verbs of the bench: examine, start, note a step, record a result, make ready, send back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.utils import timezone

from labcases.bench.evidence.actions import show_findings
from labcases.bench.models import Examination, Result, Step, WantedResult
from labcases.bench.protocol_steps import BEGIN, COPY, FIRMWARE
from labcases.bench.protocols.actions import keep_version, must_be_open
from labcases.cases.actions import advance
from labcases.cases.models import Item, Wanted
from labcases.cases.readings.actions import must_be_the_right_item
from labcases.cases.stages import Stage
from labcases.core.refused import Refused
from labcases.custody.actions import record, recorded
from labcases.custody.models import Photo
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right
from labcases.stock.actions.buying import raise_need
from labcases.stock.models import DonorPart, Need
from labcases.stock.queries.narrowing import not_known_to_differ
from labcases.stock.queries.ruling import rules_for
from labcases.stock.rules import PartKind


class NotAllowedToOpen(Refused):
    """Opening was noted, and the customer has not allowed it."""


class NeverWritten(Refused):
    """The user area of a patient was written, or is about to be."""


def _works_on(item: Item, by: Actor, happened: datetime) -> None:
    """Whoever takes a step at the bench is one of the case's engineers; the item keeps the order it started with."""
    keep_version(item=item, by=by, happened=happened)
    if by.staff:
        item.case.engineers.add(by.staff)


@recorded
def examine(*, item: Item, by: Actor, happened: datetime, photos: Sequence[Photo] = (), **findings: Any) -> Examination:
    """Record findings; the item is examined. ``findings`` are the fields of Examination, ``photos`` what shows them.

    Raises NotAllowedToOpen when it was opened without the customer's authority, NotYet when the terms do not allow
    an examination.
    """
    by.must(Right.EXAMINE)
    must_be_the_right_item(item)
    if findings.get("inside") and not item.case.may_open:
        raise NotAllowedToOpen(
            "The customer has not allowed opening it for inspection.",
            why="That authority is asked for with the terms, or by a call that is noted.",
            mend="Ask for it and have it noted with the terms; or leave “opened and inspected inside” out.",
        )
    made = Examination.objects.create(item=item, **findings, **Entry.stamp(by, happened))
    if item.stage != Stage.EXAMINED:
        advance(item=item, to=Stage.EXAMINED, by=by, happened=happened)
    _works_on(item, by, happened)
    case = item.case.code
    if made.inside:
        record("opened", thing=item.thing, by=by, happened=happened, because="inspected in clean air", case=case)
    because = f"{made.fault_words or 'no fault named'}; prospects {made.prospects}"
    record("examined", thing=item.thing, by=by, happened=happened, because=because, case=case)
    show_findings(examination=made, photos=dict.fromkeys(photos, ""), by=by, happened=happened)
    _put_on_the_list_to_buy(made, by, happened)
    return made


def _put_on_the_list_to_buy(made: Examination, by: Actor, happened: datetime) -> None:
    """A need for each part that is asked for, of which nothing free could fit and none is on order."""
    item = made.item
    for part in made.parts:
        asked = Need.objects.still_open().filter(item=item, part=part)
        if not _may_be_there(item, part) and not asked.exists():
            raise_need(patient=item, part=part, by=by, happened=happened, note=f"asked for by: {made.fault_words}")


def _may_be_there(item: Item, part: str) -> bool:
    """Whether something on the shelf could fit: of its family where that is known, and different in no must."""
    rules = rules_for(PartKind(part), item.family_id).rules
    free = DonorPart.objects.unreserved(at=timezone.now(), unless_for=item).filter(part=part)
    fitting = free.filter(not_known_to_differ(item, rules))
    return bool((fitting.filter(donor__family=item.family_id) if item.family_id else fitting).exists())


@recorded
def start_work(*, item: Item, by: Actor, happened: datetime) -> Item:
    """Begin chargeable work. Raises NotYet without authority on file, NotInThisOrder while the bench order stops it."""
    by.must(Right.EXAMINE)
    must_be_open(item, BEGIN)
    advance(item=item, to=Stage.IN_WORK, by=by, happened=happened)
    _works_on(item, by, happened)
    record("work-started", thing=item.thing, by=by, happened=happened, case=item.case.code)
    return item


@recorded
def note_step(
    *,
    item: Item,
    what: str,
    by: Actor,
    happened: datetime,
    method: str = "",
    change: str = "",
    copied: bool = False,
    wrote: str = "",
) -> Step:
    """Write down what was done. ``change`` is a change to the patient that could not be avoided, and why.

    ``copied`` says that this step made the clone, ``wrote`` what was written on the patient (``Step.Wrote``).
    Raises NotInThisOrder while a stop of the bench order stands before copying or writing, and NeverWritten.
    """
    by.must(Right.EXAMINE)
    must_be_the_right_item(item)
    if copied:
        must_be_open(item, COPY)
    if wrote:
        _may_write(item, wrote, change)
    _works_on(item, by, happened)
    about = {"what": what, "method": method, "change": change, "wrote": wrote}
    made = Step.objects.create(item=item, **about, **Entry.stamp(by, happened))
    kind = "cloned" if copied else "work-noted"
    record(kind, thing=item.thing, by=by, happened=happened, because=what, change=change, case=item.case.code)
    return made


def _may_write(item: Item, wrote: str, change: str) -> None:
    if wrote == Step.Wrote.USER_AREA:
        raise NeverWritten(
            "The user area of a patient is never written.",
            why="What is written over is gone. Nobody lifts this.",
            mend="If it happened, note it as work that went wrong, and tell a manager.",
        )
    must_be_open(item, FIRMWARE)
    if not change:
        raise NeverWritten("Say what was written, and why it could not be avoided.", mend="Fill in the change.")


@recorded
def record_result(
    *,
    item: Item,
    by: Actor,
    happened: datetime,
    wanted: Mapping[int, tuple[str, str]] | None = None,
    **numbers: Any,
) -> Result:
    """What came of it: numbers, and an answer (state, words) to each line of the wanted list by its key."""
    by.must(Right.EXAMINE)
    must_be_the_right_item(item)
    made = Result.objects.create(item=item, **numbers, **Entry.stamp(by, happened))
    lines = {line.pk: line for line in Wanted.objects.filter(case=item.case)}
    WantedResult.objects.bulk_create(
        [
            WantedResult(result=made, wanted=lines[pk], state=state, words=words)
            for pk, (state, words) in (wanted or {}).items()
        ]
    )
    if item.stage == Stage.IN_WORK:
        advance(item=item, to=Stage.CHECKED, by=by, happened=happened)
    because = made.get_compared_display() + (f"; {made.files} files" if made.files is not None else "")
    record("checked", thing=item.thing, by=by, happened=happened, because=because, case=item.case.code)
    return made


@recorded
def make_ready(*, item: Item, by: Actor, happened: datetime) -> Item:
    """The files are on their delivery medium and may go out."""
    by.must(Right.EXAMINE)
    advance(item=item, to=Stage.READY, by=by, happened=happened)
    record("made-ready", thing=item.thing, by=by, happened=happened, case=item.case.code)
    return item


@recorded
def send_back(*, item: Item, by: Actor, happened: datetime, because: str) -> Item:
    """Back to examination: what came up changes the findings, and the quote with them."""
    by.must(Right.EXAMINE)
    advance(item=item, to=Stage.EXAMINED, by=by, happened=happened, because=because)
    record("sent-back", thing=item.thing, by=by, happened=happened, because=because, case=item.case.code)
    return item
