"""Candidates for a patient: parts in the order of ``matching.rank``, media in the order of ``fitting.best``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from django.utils import timezone

from labcases.cases.models import Item
from labcases.cases.queries import facts_for
from labcases.custody.photos.queries import photos_of, with_photos
from labcases.media.traits import Traits
from labcases.stock import fitting, matching
from labcases.stock.actions.media import QUESTIONS, need_of
from labcases.stock.expected import Expected, History, band_of
from labcases.stock.models import Destination, DestinationAssignment, DonorPart, Need, PartAssignment
from labcases.stock.queries.inside import with_families
from labcases.stock.queries.missed import Missed, missed_by_others
from labcases.stock.queries.narrowing import by_likeness, not_known_to_differ
from labcases.stock.queries.outcomes import history
from labcases.stock.queries.ruling import RuleBook, RuleBooks, rule_books
from labcases.stock.queries.waiting import named_part, waiting_for_parts
from labcases.stock.rules import PartKind

JUDGED = 2_000  # no more rows than this are judged for one page
SHOWN = 6
BESIDE = 3  # candidates that stand beside the patient in one table
HELD = 200
NEAR_MISSES = 5
WHY_NOT = 6


def wanted_part(item: Item) -> PartKind:
    """The part that the newest findings ask for, or the one that most often is (common practice, no source)."""
    named = named_part(facts_for([item])[item.pk].needs_part)
    return named or (PartKind.HEAD_STACK if item.spinning else PartKind.WHOLE_TWIN)


@dataclass(slots=True)
class PartCandidate:
    """A part as ``matching.rank`` wants it, with its row."""

    part: DonorPart
    traits: Traits
    cost_minor: int | None
    missed: float = 0.0
    success: float | None = None

    @property
    def key(self) -> int:
        return self.part.pk


@dataclass(frozen=True)
class Shown:
    """A candidate as the page shows it: what is expected of it, and who else would miss it."""

    candidate: PartCandidate
    verdict: matching.Verdict
    expected: Expected
    only_fit: list[Item]
    also: int

    @property
    def part(self) -> DonorPart:
        return self.candidate.part

    @property
    def photos(self) -> list[Any]:
        """Photos of the part, then of its donor."""
        return [*self.part.thing.shown_photos, *self.part.donor.thing.shown_photos]


@dataclass(frozen=True)
class Taken:
    """A part that would suit, and serves or waits for somebody else."""

    part: DonorPart
    verdict: matching.Verdict
    serves: PartAssignment | None


@dataclass(frozen=True)
class Match:
    """The match page: the best ``shown`` of ``found``, and who holds what would suit as well."""

    kind: PartKind
    book: RuleBook
    shown: list[Shown]
    found: int
    excluded: int
    capped: bool
    held: list[Taken]
    free_of_kind: int
    need: Need | None
    photos: list[Any]

    @property
    def more(self) -> int:
        return self.found - len(self.shown)

    @property
    def beside(self) -> list[Shown]:
        return self.shown[:BESIDE]

    @property
    def lines(self) -> list[tuple[matching.Reason, list[matching.Reason]]]:
        """The comparison attribute by attribute: the patient's reason of the first, and everybody's."""
        columns = [one.verdict.reasons for one in self.beside]
        return [(rows[0], list(rows)) for rows in zip(*columns, strict=True)] if columns else []


def match(item: Item, kind: PartKind, *, shown: int = SHOWN, excluded: bool = False) -> Match:
    """Free parts of this kind for this patient, best first; what a must excludes only when asked for.

    The database leaves out what a must excludes; equal traits are judged once; reasons are made for rows shown only.
    The number of queries does not hang on how many parts there are.
    """
    now, books = timezone.now(), rule_books()
    book = books.of(kind, item.family_id)
    free = DonorPart.objects.unreserved(at=now, unless_for=item).filter(part=kind)
    narrowed = free if excluded else free.filter(not_known_to_differ(item, book.rules))
    rows = list(by_likeness(narrowed, item, book.rules).select_related("donor")[: JUDGED + 1])
    candidates, past = candidates_of(rows[:JUDGED]), history(kind)
    with_families([item])
    pairs = [(one.key, one.traits) for one in candidates]
    missed = missed_by_others(item, kind, pairs, waiting=waiting_for_parts(), books=books, at=now)
    for one in candidates:
        one.missed = missed.share.get(one.key, 0.0)
    ranked = rank(item, kind, candidates, book, past)
    kept = ranked if excluded else [one for one in ranked if not one.verdict.excluded]
    count = free.count()
    return Match(
        kind=kind,
        book=book,
        shown=_shown(kept[:shown], item, kind, past, missed),
        found=len(kept),
        excluded=count - len(kept),
        capped=len(rows) > JUDGED,
        held=_held(item, kind, books),
        free_of_kind=count,
        need=Need.objects.still_open().filter(item=item, part=kind).first(),
        photos=photos_of(item.thing),
    )


def candidates_of(rows: Sequence[DonorPart]) -> list[PartCandidate]:
    """Rows, with their donors, as candidates."""
    with_families(row.donor for row in rows)
    return [PartCandidate(row, row.traits(), row.cost_minor) for row in rows]


def rank(
    item: Item, kind: PartKind, candidates: Sequence[PartCandidate], book: RuleBook, past: History
) -> list[matching.Ranked[PartCandidate]]:
    """In the order in which to look at them."""
    family = str(item.family) if item.family else None
    expect = {band: past.success(family, kind, band) for band in {band_of(score) for score in range(101)}}
    return matching.rank(item.traits(), candidates, book.rules, lambda verdict: expect[band_of(verdict.score)])


def _shown(
    ranked: Sequence[matching.Ranked[PartCandidate]], item: Item, kind: PartKind, past: History, missed: Missed
) -> list[Shown]:
    """The rows that are shown get all that a row prints, in one query and one for their photos."""
    _with_context([one.candidate for one in ranked])
    family = str(item.family) if item.family else None
    found = []
    for one in ranked:
        key = one.candidate.key
        expected = past.expected(family, kind, band_of(one.verdict.score))
        also = missed.also.get(key, 0)
        found.append(Shown(one.candidate, one.verdict, expected, missed.only_fit.get(key, []), also))
    return found


def _with_context(candidates: Sequence[PartCandidate]) -> None:
    photos = (with_photos(), with_photos("donor__thing__"))
    rows = DonorPart.objects.with_context().prefetch_related(*photos).in_bulk([one.key for one in candidates])
    for one in candidates:
        one.part = rows.get(one.key, one.part)


def _held(item: Item, kind: PartKind, books: RuleBooks) -> list[Taken]:
    """The best of those that serve another patient now, or are kept for one."""
    now, book = timezone.now(), books.of(kind, item.family_id)
    free = DonorPart.objects.unreserved(at=now, unless_for=item)
    held = DonorPart.objects.filter(part=kind, state__in=[DonorPart.State.ASSIGNED, *DonorPart.ON_THE_SHELF])
    held = held.exclude(pk__in=free.values("pk")).exclude(assignments__in=_standing(item))
    held = held.filter(not_known_to_differ(item, book.rules))
    candidates = candidates_of(list(by_likeness(held, item, book.rules).select_related("donor")[:HELD]))
    ranked = matching.rank(item.traits(), candidates, book.rules)
    best = [one for one in ranked if not one.verdict.excluded][:NEAR_MISSES]
    _with_context([one.candidate for one in best])
    standing = PartAssignment.objects.filter(ended=None, part__in=[one.candidate.key for one in best])
    serves = {row.part_id: row for row in standing.select_related("item__thing", "item__case__thing", "by")}
    return [Taken(one.candidate.part, one.verdict, serves.get(one.candidate.key)) for one in best]


def _standing(item: Item) -> Any:
    return PartAssignment.objects.filter(item=item, ended=None)


# --- somewhere to copy to -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Room:
    """A medium, the answer about it, and the patient it serves now, if any."""

    medium: Destination
    fit: fitting.Fit
    serves: str = ""


@dataclass(frozen=True)
class Rooms:
    """Media that fit, the smallest first; and why others do not."""

    use: str
    shown: list[Room]
    found: int
    need: fitting.Need
    why_not: list[Room] = field(default_factory=list)

    @property
    def more(self) -> int:
        return self.found - len(self.shown)


def rooms(item: Item, use: str, *, shown: int = SHOWN, planned: bool = False) -> Rooms:
    """Somewhere to copy to (or to deliver on) for this patient, or for what its plan reads."""
    need, asked = need_of(item, planned=planned), QUESTIONS[Destination.Use(use)]
    media = Destination.objects.with_context().with_bytes().filter(use=use)
    serving = DestinationAssignment.objects.filter(ended=None).values("destination")
    free = media.assignable_to(item.case).exclude(pk__in=serving)
    if use == Destination.Use.CLONE:
        wanted = need.bytes if need.planned_bytes is None else need.planned_bytes
        free = free.filter(capacity__gte=wanted) if wanted else free.none()
    rows = {row.pk: row for row in free.order_by("capacity", "pk")[:JUDGED]}
    answers = fitting.best(need, (row.room() for row in rows.values()), asked=asked)
    fits = [Room(rows[answer.key], answer) for answer in answers]
    return Rooms(use, fits[:shown], len(fits), need, _why_not(media, need, asked))


def _why_not(media: Any, need: fitting.Need, asked: Any) -> list[Room]:
    """The nearest of those that do not: first the large enough ones that are held, then the largest too small."""
    others = media.with_serving().exclude(state__in=[Destination.State.RETIRED, Destination.State.GONE])
    held = others.exclude(state__in=Destination.CLEAN).filter(capacity__gte=need.bytes or 0).order_by("capacity", "pk")
    small = others.filter(state__in=Destination.CLEAN, capacity__lt=need.bytes or 0).order_by("-capacity", "pk")
    nearest = [*held[:WHY_NOT], *(small[:WHY_NOT] if asked is fitting.fits else ())]
    answers = [Room(row, asked(need, row.room()), row.serves or "") for row in nearest]
    return [answer for answer in answers if not answer.fit.fits][:WHY_NOT]
