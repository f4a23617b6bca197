"""Recording in lots: the lines of many things begin, or are closed again, with one event each.

An event costs what its hashes and its rows cost: one signed head covers the lot, which nobody sees halfway.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import OuterRef, Subquery
from django.utils import timezone

from labcases.custody import lines
from labcases.custody.actions import case_of
from labcases.custody.appending.actions import append_lot, said_of
from labcases.custody.firsts.beginning import BROUGHT_IN, Beginning
from labcases.custody.models import Event, Thing, Whereabouts

NOWHERE = Whereabouts()


@dataclass
class _Lot:
    """Things that are at one spot: their lines begin alike."""

    line: dict[str, object]
    things: list[int]


def begin_lines(things: Sequence[Thing], how: Beginning) -> None:
    """Give each of these things, of which the ledger says nothing yet, its first event: where it was when it came.

    Call it inside a ``recorded`` action, with things that were read inside it, their whereabouts selected.
    """
    entered, lots = timezone.now(), dict[lines.Spot, _Lot]()
    said = [
        said_of("brought-in", thing=thing, by=how.by, happened=how.happened, case=case_of(thing), was=NOWHERE,
                now=thing.whereabouts, words={"because": how.because}, entered=entered)
        for thing in things
    ]  # fmt: skip
    events = append_lot(said, by=how.by, happened=how.happened, entered=entered)
    for thing, event in zip(things, events, strict=True):
        _into_lot(lots, thing, event)
    for lot in lots.values():
        _begin(lot, events, how.happened)


def _into_lot(lots: dict[lines.Spot, _Lot], thing: Thing, event: Event) -> None:
    spot = lines.Spot.read(thing.whereabouts.refs())
    if spot not in lots:
        step = lines.Step(event.sequence, BROUGHT_IN, event.happened, now=spot)
        lots[spot] = _Lot(lines.judge(None, step)[0].as_record(), [])
    lots[spot].things.append(thing.pk)


def _begin(lot: _Lot, events: Sequence[Event], happened: datetime) -> None:
    its_own = Event.objects.filter(thing_code=OuterRef("code"), sequence__gte=events[0].sequence)
    last = Subquery(its_own.order_by("-sequence").values("sequence")[:1])
    Thing.objects.filter(pk__in=lot.things).update(last_event=last, line=lot.line, last_moved=happened)


def take_back(things: Sequence[Thing], how: Beginning) -> None:
    """Record of each of these things, which are about to be removed, that it never was the lab's to keep account of.

    Each event points at the thing's first one. Call it inside a ``recorded`` action.
    """
    entered = timezone.now()
    said = [
        said_of("taken-back", thing=thing, by=how.by, happened=how.happened, case=case_of(thing), was=thing.whereabouts,
                now=NOWHERE, words={"because": how.because}, entered=entered, corrects=thing.last_event)
        for thing in things
    ]  # fmt: skip
    append_lot(said, by=how.by, happened=how.happened, entered=entered)
