"""Where things are, and the line of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Count

from labcases.custody.kinds import KINDS
from labcases.custody.models import Event, EventText, Head, Thing
from labcases.lab.models import Place

NEWEST = 12


@dataclass(frozen=True)
class Entry:
    """One event as people read it: what happened, from whom to whom, why, by whom."""

    sequence: int
    thing: str
    happened: datetime
    entered: datetime
    says: str
    was: str
    now: str
    because: str
    authority: str
    change: str
    by: str
    role: str
    corrects: int | None
    digest: str

    @property
    def late(self) -> bool:
        """Entered more than an hour after it happened: normal, and said."""
        return abs((self.entered - self.happened).total_seconds()) > 3600


def entries(events: Sequence[Event]) -> list[Entry]:
    """Events with their words, in two more queries."""
    texts: dict[int, dict[str, str]] = {event.sequence: {} for event in events}
    for sequence, field, text in EventText.objects.filter(sequence__in=texts).values_list("sequence", "field", "text"):
        texts[sequence][field] = text
    words = dict(Thing.objects.filter(code__in={e.thing_code for e in events}).values_list("code", "words"))
    return [_entry(event, texts[event.sequence], words.get(event.thing_code, "")) for event in events]


def _entry(event: Event, texts: dict[str, str], what: str) -> Entry:
    gaps = {"what": what or "It", "to": texts.get("to", ""), "because": texts.get("because", "")}
    return Entry(
        sequence=event.sequence,
        thing=event.thing_code,
        happened=event.happened,
        entered=event.entered,
        says=sentence(event.kind, **gaps),
        was=texts.get("from", ""),
        now=texts.get("to", ""),
        because=texts.get("because", ""),
        authority=texts.get("authority", ""),
        change=texts.get("change", ""),
        by=texts.get("by", "erased"),
        role=event.role,
        corrects=event.corrects,
        digest=event.digest,
    )


def sentence(kind: str, *, what: str, to: str, because: str) -> str:
    """How the day-book says an event."""
    said = KINDS[kind].says.format(what=what, to=to, because=because).rstrip(": ").strip()
    return said[:1].upper() + said[1:]


def line_of(thing: Thing) -> list[Entry]:
    """Every event of a thing, oldest first."""
    return entries(list(Event.objects.filter(thing_code=thing.code).defer("body").order_by("sequence")))


def line_of_case(case: Any) -> list[Entry]:
    """Every movement and touch of a case's things, oldest first, for its papers."""
    return entries(list(Event.objects.filter(case_code=case.code).defer("body").order_by("happened", "sequence")))


@dataclass(frozen=True)
class WhereAllIs:
    """The front of Custody: how many things are where, and the newest movements."""

    places: list[Place]
    with_people: int
    outside: int
    unknown: int
    newest: list[Entry]
    head: Head | None


def where_all_is(request: Any) -> WhereAllIs:
    """A fixed number of queries, whatever the lab holds."""
    real = Thing.objects.exclude(kind=Thing.Kind.DOCKET)
    moves = [name for name, kind in KINDS.items() if kind.moves]
    newest = Event.objects.filter(kind__in=moves).defer("body").order_by("-sequence")[:NEWEST]
    return WhereAllIs(
        places=list(Place.objects.annotate(holds=Count("things")).filter(in_use=True).order_by("name")),
        with_people=real.exclude(staff=None).count(),
        outside=real.exclude(party=None).count(),
        unknown=real.filter(place=None, staff=None, party=None).count(),
        newest=entries(list(newest)),
        head=Head.objects.first(),
    )


@dataclass(frozen=True)
class CustodySection:
    """The custody part of a docket: each thing and where it is, and the line of events."""

    things: list[Thing]
    entries: list[Entry]


def section_of(case: Any) -> CustodySection:
    """Things of a case (its own, and stock that serves it) with their whereabouts."""
    events = list(Event.objects.filter(case_code=case.code).defer("body").order_by("happened", "sequence"))
    used = {event.thing_code for event in events if KINDS[event.kind].moves}
    things = Thing.objects.with_whereabouts().filter(code__in=used).exclude(kind=Thing.Kind.DOCKET)
    moves = [event for event in events if KINDS[event.kind].moves or event.kind in ("opened", "sealed", "seal-broken")]
    return CustodySection(list(things), entries(moves))
