"""The front of the Stockroom: what patients wait for, what there is of each kind, and what is short."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import BooleanField, Count, ExpressionWrapper, Q
from django.utils import timezone

from labcases.cases.facts import Facts
from labcases.cases.models import Item
from labcases.cases.queries import facts_for
from labcases.cases.stages import Stage
from labcases.stock.models import Destination, DonorPart
from labcases.stock.rules import PartKind

AT_WORK = (Stage.EXAMINED, Stage.QUOTED, Stage.AUTHORISED, Stage.IN_WORK)
SHOWN = 50
GB = 10**9
# Media are counted by the size they are bought in; a little under the printed figure still counts as it.
SIZES_GB = (64, 128, 256, 500, 1_000, 2_000, 4_000, 8_000, 16_000)

_HELD = ExpressionWrapper(Q(held_for__isnull=False, owned_by=None), output_field=BooleanField())


@dataclass(frozen=True)
class Waits:
    """A patient that needs something from stock: what, and how many there are that may do."""

    item: Item
    what: str
    part: str
    there: int

    @property
    def short(self) -> bool:
        return self.there == 0

    @property
    def may_do(self) -> str:
        return f"{self.there:,} may do"


def waiting(request: Any) -> list[Waits]:
    """Patients whose findings ask for a part, or that have leave to be worked on and nowhere to copy to."""
    at_work = Item.objects.with_context().filter(case__closed=None, stage__in=AT_WORK)
    items = list(at_work.filter(parent=None))  # a chip's reads are files: it takes no part and no medium
    facts = facts_for(items)
    free, sizes = _free_parts(), _clean_sizes()
    rows = [row for item in items for row in _waits(item, facts[item.pk], free, sizes)]
    return sorted(rows, key=lambda row: (not row.short, row.item.case_id))[:SHOWN]


def _waits(item: Item, facts: Facts, free: Counter[tuple[str, int | None]], sizes: Counter[int]) -> Iterable[Waits]:
    if facts.needs_part and not facts.donor_parts:
        part = next((kind.value for kind in PartKind if kind.casefold() in facts.needs_part.casefold()), "")
        same = free[part, item.family_id] if item.family_id else 0
        yield Waits(item, facts.needs_part, part, same + free[part, None] if part else 0)
    if facts.authorised and not facts.destinations:
        need = item.bytes
        yield Waits(item, "destination", "", sum(n for size, n in sizes.items() if need and size >= need))


def _free_parts() -> Counter[tuple[str, int | None]]:
    """Free parts by kind and family; those of no known family may suit anybody."""
    free = DonorPart.objects.unreserved(at=timezone.now()).order_by()
    rows = free.values_list("part", "donor__family").annotate(Count("pk"))
    return Counter({(part, family): n for part, family, n in rows})


def _clean_sizes() -> Counter[int]:
    """Clean destinations by their bytes."""
    clean = Destination.objects.with_bytes().filter(use=Destination.Use.CLONE, state__in=Destination.CLEAN)
    return Counter(dict(clean.order_by().values_list("capacity").annotate(Count("pk"))))


@dataclass(frozen=True)
class PartsOfKind:
    """How many parts of a kind there are, by state."""

    part: str
    free: int = 0
    reserved: int = 0
    assigned: int = 0
    spent: int = 0


@dataclass(frozen=True)
class Parts:
    """Parts by kind, and how many still serve a patient that has left."""

    kinds: list[PartsOfKind]
    left: int


def parts_there(request: Any) -> Parts:
    """In three queries, whatever the number of rows."""
    return Parts(_by_kind(), DonorPart.objects.serving_nobody_here().count())


def _by_kind() -> list[PartsOfKind]:
    """Every kind of part. Free is for anybody: what is kept for a patient now is not."""
    S = DonorPart.State
    states = {"shelf": DonorPart.ON_THE_SHELF, "assigned": [S.ASSIGNED], "spent": [S.USED, S.SPOILED]}
    count = {name: Count("pk", filter=Q(state__in=listed)) for name, listed in states.items()}
    rows: Any = DonorPart.objects.order_by().values("part").annotate(**count)
    kept = DonorPart.objects.reserved(at=timezone.now()).order_by().values_list("part").annotate(Count("pk"))
    reserved = dict(kept)
    found = {row["part"]: _of_kind(reserved=reserved.get(row["part"], 0), **row) for row in rows}
    return [found.get(kind.value, PartsOfKind(kind.value)) for kind in PartKind]


def _of_kind(*, part: str, shelf: int, reserved: int, assigned: int, spent: int) -> PartsOfKind:
    return PartsOfKind(part, shelf - reserved, reserved, assigned, spent)


@dataclass(frozen=True)
class MediaOfSize:
    """How many media of a size there are: clean, in service, holding data until their wipe."""

    words: str
    least: int
    clean: int
    serving: int
    holding: int
    delivery: int


@dataclass(frozen=True)
class Media:
    """Media by size, and how many still serve a patient that has left."""

    sizes: list[MediaOfSize]
    left: int


def media_there(request: Any) -> Media:
    """In two queries, whatever the number of rows."""
    return Media(_by_size(), Destination.objects.serving_nobody_here().count())


def _by_size() -> list[MediaOfSize]:
    rows = Destination.objects.with_bytes().exclude(state=Destination.State.GONE).order_by()
    counted: dict[int, Counter[str]] = {}
    for size, use, state, held, n in (
        rows.annotate(held=_HELD).values_list("capacity", "use", "state", "held").annotate(Count("pk"))
    ):
        counted.setdefault(size_class(size), Counter())[_standing(use, state, held)] += n
    return [_of_size(gb, counted[gb]) for gb in sorted(counted)]


def _standing(use: str, state: str, held: bool) -> str:
    if state in Destination.CLEAN:
        return "clean" if use == Destination.Use.CLONE else "delivery"
    if state == Destination.State.ASSIGNED:
        return "serving"
    return "holding" if held and state != Destination.State.WIPING else "elsewhere"


def size_class(size: int) -> int:
    """The printed gigabytes a medium is sold under, or the next that is common.

    >>> size_class(976_773_168 * 512), size_class(250_069_680 * 512), size_class(30 * 10**12)
    (500, 128, 0)
    """
    return next((gb for gb in SIZES_GB if size <= gb * GB * 101 // 100), 0)


def _of_size(gb: int, counts: Counter[str]) -> MediaOfSize:
    words = f"up to {gb:,} GB" if gb and gb < 1_000 else f"up to {gb // 1_000} TB" if gb else "larger"
    at = SIZES_GB.index(gb) if gb else len(SIZES_GB)
    least = SIZES_GB[at - 1] * GB * 101 // 100 // 512 if at else 0
    names = ("clean", "serving", "holding", "delivery")
    return MediaOfSize(words, least, **{name: counts[name] for name in names})
