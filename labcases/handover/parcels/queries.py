"""What the ledger says of parcels: which things are still on their way, and which arrived, when and by whose word."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet

from labcases.custody.models import Event, Thing
from labcases.custody.queries import words_of
from labcases.handover.models import Handover, HandoverLine

WAY = ("shipped", "delivered", "returned")
SHOWN = 50


@dataclass
class Parcel:
    """The things that went out in one parcel, and of each that has arrived the event that says so."""

    things: list[Thing]
    arrived: dict[str, Event] = field(default_factory=dict)
    waiting: list[Thing] = field(default_factory=list)
    receiver: str = ""

    @property
    def last(self) -> Event | None:
        """The newest word of an arrival."""
        return max(self.arrived.values(), key=lambda event: event.sequence, default=None)


def parcels_of(made: Sequence[Handover]) -> dict[int, Parcel]:
    """The parcel of each posted handover among these, by its pk; in two queries when there is one."""
    posted = [one for one in made if one.manner == Handover.Manner.POSTED]
    found = {
        one.pk: Parcel([line.thing for line in one.lines.all() if line.fate == HandoverLine.Fate.OUT]) for one in posted
    }
    codes = {thing.code for parcel in found.values() for thing in parcel.things}
    if not codes:
        return found
    way: dict[str, list[Event]] = {}
    for event in Event.objects.filter(thing_code__in=codes, kind__in=WAY).defer("body").order_by("sequence"):
        way.setdefault(event.thing_code, []).append(event)
    for one in posted:
        for thing in found[one.pk].things:
            _follow(found[one.pk], one, thing, way.get(thing.code, ()))
    words = words_of([parcel.last.sequence for parcel in found.values() if parcel.last])
    for parcel in found.values():
        parcel.receiver = words[parcel.last.sequence].get("receiver", "") if parcel.last else ""
    return found


def _follow(parcel: Parcel, made: Handover, thing: Thing, way: Sequence[Event]) -> None:
    """From the event that sent it off with this handover to its arrival, its return or another parcel."""
    on_its_way = False
    for event in way:
        if event.kind == "delivered" and on_its_way:
            parcel.arrived[thing.code] = event
            return
        on_its_way = event.kind == "shipped" and event.happened == made.happened
    if on_its_way and thing.party_id is not None:
        parcel.waiting.append(thing)


# --- the Counter's part -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class OnTheirWay:
    """Parcels that nobody has confirmed yet, each with the things in it, the longest on its way first."""

    rows: list[tuple[Handover, Parcel]]
    more: bool


def on_their_way(request: Any) -> OnTheirWay:
    """What was posted and has neither arrived nor come back; a fixed number of queries."""
    waiting = still_waiting().select_related("case__thing").prefetch_related("lines__thing")
    found = list(waiting.order_by("happened", "pk")[: SHOWN + 1])  # counting all of them would ask as much again
    parcels = parcels_of(listed := found[:SHOWN])
    return OnTheirWay([(one, parcels[one.pk]) for one in listed], len(found) > SHOWN)


def still_waiting() -> QuerySet[Handover]:
    """Handovers that something is on its way of: where ``parcels_of`` finds it waiting, the database does too."""
    later = Event.objects.filter(thing_code=OuterRef("thing_code"), kind__in=WAY, sequence__gt=OuterRef("sequence"))
    sent = Event.objects.filter(
        ~Exists(later), thing_code=OuterRef("thing__code"), kind="shipped", happened=OuterRef("handover__happened")
    )
    outside = {"fate": HandoverLine.Fate.OUT, "thing__party__isnull": False}
    lines = HandoverLine.objects.filter(Exists(sent), handover=OuterRef("pk"), **outside)
    return Handover.objects.filter(Exists(lines), manner=Handover.Manner.POSTED)
