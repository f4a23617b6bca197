"""Where things are, and the line of each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db.models import Count, Q

from labcases.core import codes
from labcases.custody.firsts.beginning import BROUGHT_IN
from labcases.custody.kinds import KINDS
from labcases.custody.models import Break, Event, EventText, Head, LedgerCheck, Thing
from labcases.custody.proofs.queries import prove as prove  # proofs are asked for at this door too
from labcases.custody.proofs.queries import prove_growth as prove_growth
from labcases.custody.proofs.queries import prove_many as prove_many
from labcases.custody.proofs.queries import public_key
from labcases.custody.proofs.queries import verify_ledger as verify_ledger
from labcases.custody.signing import SignedHead
from labcases.lab.models import Place

NEWEST = 12
NEAR = 5_000  # events in which the newest movements are looked for: after a large import there may be none


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
    more: tuple[tuple[str, str], ...] = ()
    right: str = ""
    corrected_by: int | None = None
    breaks: tuple[Break, ...] = ()

    @property
    def late(self) -> bool:
        """Entered more than an hour after it happened: normal, and said."""
        return abs((self.entered - self.happened).total_seconds()) > 3600


def entries(events: Sequence[Event]) -> list[Entry]:
    """Events with their words, in three more queries; in a few more when some were corrected."""
    newest = newest_corrections([event.sequence for event in events])
    texts = words_of([*(event.sequence for event in events), *newest.values()])
    what = dict(Thing.objects.filter(code__in={e.thing_code for e in events}).values_list("code", "words"))
    return [
        replace(
            _entry(event, texts[event.sequence], what.get(event.thing_code, "")),
            corrected_by=newest.get(event.sequence),
            right=texts.get(newest.get(event.sequence, 0), {}).get("because", ""),
        )
        for event in events
    ]


def words_of(sequences: Iterable[int]) -> dict[int, dict[str, str]]:
    """The words and names of some events, by their numbers; what was erased is not there."""
    found: dict[int, dict[str, str]] = {sequence: {} for sequence in sequences}
    for sequence, field, text in EventText.objects.filter(sequence__in=found).values_list("sequence", "field", "text"):
        found[sequence][field] = text
    return found


def newest_corrections(sequences: Iterable[int]) -> dict[int, int]:
    """For each of these events that was corrected: the number of the correction that counts now.

    A correction of a correction counts for what that one corrected. As many queries as corrections were corrected.
    """
    newest: dict[int, int] = {}
    leads_to = {sequence: sequence for sequence in sequences}
    while leads_to:
        rows: Any = Event.objects.filter(corrects__in=leads_to).order_by("sequence").values_list("sequence", "corrects")
        following = {}
        for sequence, corrects in rows:
            meant = leads_to[corrects]
            newest[meant] = max(sequence, newest.get(meant, 0))
            following[sequence] = meant
        leads_to = following
    return newest


def _entry(event: Event, texts: dict[str, str], what: str) -> Entry:
    return Entry(
        sequence=event.sequence,
        thing=event.thing_code,
        happened=event.happened,
        entered=event.entered,
        says=sentence(event.kind, what, texts),
        was=texts.get("from", ""),
        now=texts.get("to", ""),
        because=texts.get("because", ""),
        authority=texts.get("authority", ""),
        change=texts.get("change", ""),
        by=texts.get("by", "erased"),
        role=event.role,
        corrects=event.corrects,
        digest=event.digest,
        more=tuple((name, texts[name]) for name in ("seals", *KINDS[event.kind].details) if texts.get(name)),
    )


def sentence(kind: str, what: str, texts: Mapping[str, str]) -> str:
    """How the day-book says an event of a thing, from the words that were recorded with it."""
    return KINDS[kind].say(**{**texts, "what": what or "It"})


def line_of(thing: Thing) -> list[Entry]:
    """Every event of a thing, oldest first, with the breaks that show at it."""
    events = Event.objects.filter(thing_code=thing.code).defer("body").order_by("sequence")
    return with_breaks(entries(list(events)), thing.breaks.all())


def with_breaks(listed: Iterable[Entry], breaks: Iterable[Break]) -> list[Entry]:
    """The same entries, each with those breaks that show at it."""
    at: dict[int, list[Break]] = {}
    for row in breaks:
        at.setdefault(row.event, []).append(row)
    return [replace(entry, breaks=tuple(at.get(entry.sequence, ()))) for entry in listed]


def line_of_case(case: Any) -> list[Entry]:
    """Every movement and touch of a case's things, oldest first, for its papers."""
    return entries(list(Event.objects.filter(case_code=case.code).defer("body").order_by("happened", "sequence")))


def events_of_case(code: str) -> list[Event]:
    """Every event of a case and of its own things, bodies and all, in the order of the ledger."""
    body = codes.case_body_of(code)
    near = Thing.objects.filter(code__startswith=body).values_list("code", flat=True)
    own = [thing for thing in near if codes.case_body_of(thing) == body]
    return list(Event.objects.filter(Q(case_code=code) | Q(thing_code__in=own)).order_by("sequence"))


def texts_of(events: Sequence[Event]) -> dict[int, list[EventText]]:
    """The words and names beside some events, by their numbers."""
    found: dict[int, list[EventText]] = {}
    for text in EventText.objects.filter(sequence__in=[event.sequence for event in events]).order_by("field"):
        found.setdefault(text.sequence, []).append(text)
    return found


@dataclass(frozen=True)
class WhereAllIs:
    """The front of Custody: how many things are where, and the newest movements."""

    places: list[Place]
    with_people: int
    outside: int
    unknown: int
    newest: list[Entry]


def where_all_is(request: Any) -> WhereAllIs:
    """A fixed number of queries, whatever the lab holds."""
    real = Thing.objects.exclude(kind=Thing.Kind.DOCKET)
    moves = [name for name, kind in KINDS.items() if kind.moves and name != BROUGHT_IN]
    last = Head.objects.values_list("sequence", flat=True).first() or 0
    near = Event.objects.filter(kind__in=moves, sequence__gt=last - NEAR)
    newest = near.defer("body").order_by("-sequence")[:NEWEST]
    return WhereAllIs(
        places=list(Place.objects.annotate(holds=Count("things")).filter(in_use=True).order_by("name")),
        with_people=real.exclude(staff=None).count(),
        outside=real.exclude(party=None).count(),
        unknown=real.filter(place=None, staff=None, party=None).count(),
        newest=entries(list(newest)),
    )


@dataclass(frozen=True)
class Standing:
    """What anybody may know of the ledger: its public key, its newest signed head, and when it was last checked."""

    key: str
    head: SignedHead | None
    check: LedgerCheck | None


def standing() -> Standing:
    """How the ledger stands now; the key is empty before the first event."""
    head = Head.objects.first()
    signed = head.as_signed() if head and head.sequence else None
    return Standing(signed.key if signed else public_key(), signed, last_check())


def key_for_papers() -> str:
    """The key the ledger was begun with, as papers carry it; empty before the first event."""
    return Head.objects.filter(pk=1).values_list("key", flat=True).first() or ""


def standing_for(request: Any) -> Standing:
    """The same, as a part of the front of Custody."""
    return standing()


def last_check() -> LedgerCheck | None:
    """The newest walk through the whole ledger."""
    return LedgerCheck.objects.first()


def failed_check() -> LedgerCheck | None:
    """The newest walk, when it found something; None when the ledger held or was never walked."""
    newest = last_check()
    return newest if newest and not newest.holds else None


@dataclass(frozen=True)
class CustodySection:
    """The custody part of a docket: each thing and where it is, and the line of events."""

    docket: str
    things: list[Thing]
    entries: list[Entry]
    breaks: list[Break]


def section_of(case: Any) -> CustodySection:
    """Things of a case (its own, and stock that serves it) with their whereabouts."""
    events = list(Event.objects.filter(case_code=case.code).defer("body").order_by("happened", "sequence"))
    used = {event.thing_code for event in events if KINDS[event.kind].moves}
    things = Thing.objects.with_whereabouts().filter(code__in=used).exclude(kind=Thing.Kind.DOCKET)
    moves = [event for event in events if KINDS[event.kind].of_custody]
    listed = list(things)
    breaks = list(Break.objects.filter(thing__in=listed).select_related("thing"))
    return CustodySection(codes.printed(case.code), listed, with_breaks(entries(moves), breaks), breaks)
