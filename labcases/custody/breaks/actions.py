"""Keeping the breaks of each line beside its thing.

Judged inside the transaction that appends the event, from what is kept on the thing: no earlier event is read. Every
night all lines are walked through anew, so that a thing that was changed past the ledger shows too.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone

from labcases.core.actions import writing
from labcases.custody import lines
from labcases.custody.models import Break, Event, LineCheck, Thing

KEPT = ["line", "breaks_open", "worst_break"]


def judge_append(thing: Thing, body: Mapping[str, Any], event: Event) -> None:
    """Judge an event that was just appended to the line of ``thing``, whose row is as it was before it.

    The caller saves the fields named in ``KEPT``.
    """
    step = lines.Step.read(body)
    before = lines.Standing.from_record(thing.line) or _standing_before(thing, event)
    standing, found = lines.judge(before, step)
    thing.line = standing.as_record()
    if found:
        Break.objects.bulk_create([_row(thing, one, event) for one in found])
    if step.answers is not None:
        Break.objects.filter(thing=thing, event=step.answers, answered=None).update(answered=event.sequence)
    if found or step.answers is not None:
        _count(thing)


def _row(thing: Thing, found: lines.Break, event: Event) -> Break:
    return Break(
        thing=thing,
        event=found.event,
        kind=found.kind,
        grade=found.grade,
        detail=found.detail[:100],
        happened=event.happened,
    )


def _standing_before(thing: Thing, event: Event) -> lines.Standing | None:
    """A thing from before lines were kept: its line is walked through once."""
    if not thing.last_event:
        return None
    return lines.walk(_steps(_events(thing).exclude(sequence__gte=event.sequence))).standing


def _events(thing: Thing) -> QuerySet[Event]:
    return Event.objects.filter(thing_code=thing.code).order_by("sequence")


def _steps(events: Any) -> Iterator[lines.Step]:
    return (lines.Step.read(json.loads(bytes(event.body))) for event in events)


def _count(thing: Thing) -> None:
    grades = set(thing.breaks.filter(answered=None).values_list("grade", flat=True))
    thing.breaks_open = thing.breaks.filter(answered=None).count()
    thing.worst_break = next((grade for grade in lines.GRADES if grade in grades), "")


# --- every night ----------------------------------------------------------------------------------------------------


@dataclass
class Rechecked:
    """What a walk through every line found."""

    things: int = 0
    put_right: int = 0
    beside: int = 0


def recheck_lines() -> LineCheck:
    """Walk through the line of every thing anew, and put right what is kept beside it; safe to run twice.

    A thing whose row says something else than its last event was changed past the ledger: that is a gap at that event.
    """
    started, found = timezone.now(), Rechecked()
    events = Event.objects.exclude(thing_code="").order_by("thing_code", "sequence").iterator(chunk_size=2000)
    for code, some in groupby(events, key=lambda event: event.thing_code):
        found.things += 1
        listed = list(some)
        _recheck(code, listed, found)
    said = {"things": found.things, "put_right": found.put_right, "beside": found.beside}
    return LineCheck.objects.create(started=started, ended=timezone.now(), **said)


def _recheck(code: str, events: list[Event], found: Rechecked) -> None:
    line = lines.walk(_steps(events))
    with writing():
        thing = Thing.objects.select_for_update(of=("self",)).with_whereabouts().filter(code=code).first()
        if thing is None or thing.last_event != events[-1].sequence:
            return  # another event came meanwhile, and was judged: tomorrow
        if line.standing and not _as_its_row_says(thing, line.standing):
            line.breaks.append(lines.Break(events[-1].sequence, lines.BESIDE))
            found.beside += 1
        found.put_right += _keep(thing, line, {event.sequence: event for event in events})


def _as_its_row_says(thing: Thing, standing: lines.Standing) -> bool:
    return lines.Spot.read(thing.whereabouts.refs()) == standing.at and thing.gone == standing.ended


def _keep(thing: Thing, line: lines.Line, events: Mapping[int, Event]) -> bool:
    """Bring the rows of a line up to date; gives whether anything was not as it should be."""
    known = {(row.event, row.kind, row.detail): row for row in thing.breaks.all()}
    wanted = {(one.event, one.kind, one.detail[:100]): one for one in line.breaks}
    missing = [one for key, one in wanted.items() if key not in known]
    Break.objects.bulk_create([_row(thing, one, events[one.event]) for one in missing])
    answered = 0
    for event, by in line.answered.items():
        answered += thing.breaks.filter(event=event, answered=None).update(answered=by)
    before = {name: getattr(thing, name) for name in KEPT}
    thing.line = line.standing.as_record() if line.standing else {}
    _count(thing)
    changed = before != {name: getattr(thing, name) for name in KEPT}
    if changed:
        thing.save(update_fields=KEPT)
    return bool(missing or answered or changed)
