"""What the find field finds: parts and media, narrowed by words and facets, in a fixed number of queries.

Makers, families and places are few: they are compared folded in Python, so that accents and separators do not
matter, and narrow by their keys. Model and board numbers are compared as the database keeps them, without separators.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import parse_qs

from django.db import connection
from django.db.models import Count, Q
from django.utils import timezone

from labcases.cases.models import Item
from labcases.core import codes
from labcases.core.text import folded, folded_serial
from labcases.custody.models import Thing
from labcases.lab.models import Place
from labcases.stock.finding.asked import Asked, bare, understand
from labcases.stock.models import Destination, Donor, DonorPart, Family
from labcases.stock.queries.front import SIZES_GB, size_class

FACETS = ("part", "family", "size", "shelf")
MOST_FACETS = 12
NEAR = 3  # per cent: a "2 TB" medium may have a little more or less
LEAST_SERIAL = 3
LAST = chr(0x10FFFF)
# Beside an OR SQLite looks a list of keys up once. Alone, it may go through the list again for every part of a shelf.
NO_PART = Q(pk__lt=0)


@dataclass(frozen=True)
class Names:
    """What a word may name besides a number: makers, families and places, folded."""

    makers: Mapping[str, tuple[str, ...]]
    families: Mapping[str, tuple[int, ...]]
    places: Mapping[str, tuple[int, ...]]

    @classmethod
    def read(cls) -> Names:
        """In five queries."""
        makers = {*_distinct(Donor), *_distinct(Destination)}
        aliases = Family.objects.values_list("aliases__model_start", "pk")
        families = [*Family.objects.values_list("name", "pk"), *((start, pk) for start, pk in aliases if start)]
        return cls(
            _by_name((maker, maker) for maker in makers if maker),
            _by_name(families),
            _by_name(Place.objects.order_by().values_list("name", "pk")),
        )


def _distinct(model: Any) -> set[str]:
    return set(model.objects.order_by().values_list("maker", flat=True).distinct())


def _by_name(pairs: Iterable[tuple[str, Any]]) -> dict[str, tuple[Any, ...]]:
    found: dict[str, list[Any]] = {}
    for name, key in pairs:
        found.setdefault(folded(name), []).append(key)
    return {name: tuple(keys) for name, keys in found.items()}


def _named(names: Mapping[str, tuple[Any, ...]], word: str) -> list[Any]:
    """The keys of every name that this word stands in; a single letter has to be a word of the name."""
    return [key for name, keys in names.items() if _in(word, name) for key in keys]


def _in(word: str, name: str) -> bool:
    return word in name.split() if len(word) < 2 else word in name or bare(word) in bare(name)


def _things(word: str) -> Q:
    """A code or its beginning, a serial or its beginning; matched through the thing's own indexes."""
    key, code = folded_serial(word), codes.fold(word)
    found = _begins("code", code) if len(code) >= 2 else Q(pk__in=[])
    return found | _begins("serial_folded", key) if len(key) >= LEAST_SERIAL else found


def _begins(column: str, start: str) -> Q:
    """SQLite sorts by code point and has no index for LIKE; PostgreSQL sorts by its locale and has one."""
    if connection.vendor == "sqlite":
        return Q(**{f"{column}__gte": start, f"{column}__lt": start + LAST})
    return Q(**{f"{column}__startswith": start})


def _numbers(word: str, names: Sequence[str], known: Names) -> Q:
    """Numbers on the label, and what names of few things say."""
    key, found = bare(word), Q(maker__in=_named(known.makers, word)) | Q(family__in=_named(known.families, word))
    for name in names if len(key) >= 2 else ():
        found |= Q(**{f"{name}__contains": key})
    return found


def parts_for(asked: Asked, known: Names) -> Any:
    """Parts that every word of what was asked fits."""
    found = DonorPart.objects.all()
    for word in asked.words:
        fits = Q(pk__in=_parts_with(word, known)) | Q(thing__place__in=_named(known.places, word))
        found = found.filter(fits | NO_PART)
    if asked.part:
        found = found.filter(part=asked.part)
    if asked.free:
        found = found.unreserved(at=timezone.now())
    return _of_size(found, asked.size, "donor__")


def _parts_with(word: str, known: Names) -> Any:
    """Keys of parts on which this word stands, or on whose donor; one list, so that the few are looked up by key."""
    donors, parts = Donor._base_manager.order_by(), DonorPart._base_manager.order_by()
    things = Thing._base_manager.filter(_things(word)).values("pk")
    labelled = donors.filter(_numbers(word, ("model_key", "board_number_key"), known)).values("pk")
    of_donors = parts.filter(donor__in=labelled.union(donors.filter(thing__in=things).values("pk"), all=True))
    return of_donors.values("pk").union(parts.filter(thing__in=things).values("pk"), all=True)


def media_for(asked: Asked, known: Names) -> Any:
    """Media that every word of what was asked fits."""
    found = Destination.objects.all()
    for word in asked.words:
        things = Thing._base_manager.filter(_things(word))
        fits = _numbers(word, ("model_key",), known) | Q(thing__in=things.values("pk"))
        found = found.filter(fits | Q(thing__place__in=_named(known.places, word)))
    if asked.free:
        found = found.filter(state__in=Destination.CLEAN)
    return _of_size(found, asked.size, "")


def _of_size(rows: Any, size: int | None, medium: str) -> Any:
    if size is None:
        return rows
    low, high = size * (100 - NEAR) // 100, size * (100 + NEAR) // 100
    found = Q()
    for sector in (512, 520, 528, 4096, 4160):
        near = {f"{medium}sectors__range": (low // sector, high // sector), f"{medium}sector_bytes": sector}
        found |= Q(**near)
    return rows.filter(found)


# --- facets -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Choice:
    """One value of a facet: its key in the address, its words, how many there are, whether it is chosen."""

    key: str
    words: str
    count: int
    chosen: bool


@dataclass(frozen=True)
class Facet:
    name: str
    title: str
    choices: list[Choice]


@dataclass(frozen=True)
class Kind:
    """How parts or media are narrowed by facets: the column of each."""

    what: str
    columns: Mapping[str, str]
    medium: str


PARTS = Kind("parts", {"part": "part", "family": "donor__family", "shelf": "thing__place"}, "donor__")
MEDIA = Kind("media", {"part": "use", "family": "family", "shelf": "thing__place"}, "")
KINDS = {kind.what: kind for kind in (PARTS, MEDIA)}
USES = dict(Destination.Use.choices)


def narrowed(rows: Any, kind: Kind, chosen: Mapping[str, str]) -> Any:
    """Rows that fit what is chosen of the facets; a choice that cannot be narrows nothing."""
    for name, column in kind.columns.items():
        value = chosen.get(name, "")
        if value and (name == "part" or value.isdecimal()):
            rows = rows.filter(**{column: value})
    size = chosen.get("size", "")
    return _in_class(rows, int(size), kind.medium) if size.isdecimal() and int(size) in (*SIZES_GB, 0) else rows


def _in_class(rows: Any, gb: int, medium: str) -> Any:
    """Of one class of sizes, whatever the sector size: bounded by sectors, so that no row is computed."""
    at = SIZES_GB.index(gb) if gb else len(SIZES_GB)
    low = SIZES_GB[at - 1] * 10**9 * 101 // 100 if at else 0
    found = Q()
    for sector in (512, 520, 528, 4096, 4160):
        bounds = {f"{medium}sectors__gt": low // sector, f"{medium}sector_bytes": sector}
        if gb:
            bounds[f"{medium}sectors__lte"] = gb * 10**9 * 101 // 100 // sector
        found |= Q(**bounds)
    return rows.filter(found)


@dataclass(frozen=True)
class Counts:
    """How many rows there are, and of each value of each facet."""

    total: int
    by: Mapping[str, Counter[Any]]

    @classmethod
    def of(cls, rows: Any, kind: Kind, *, every: bool = False) -> Counts:
        """All facets in one walk, since a walk costs more than its counting; but when it is ``every`` row of the
        stockroom, each facet from its own index, where nothing has to be sorted.
        """
        by: dict[str, Counter[Any]] = {}
        for names in (("part",), ("family", "size"), ("shelf",)) if every else (FACETS,):
            by |= _counted(rows, kind, names)
        return cls(by["part"].total(), by)


def _counted(rows: Any, kind: Kind, names: Sequence[str]) -> dict[str, Counter[Any]]:
    """How many rows there are of each value of these facets."""
    size = (f"{kind.medium}sectors", f"{kind.medium}sector_bytes")
    columns = [column for name in names for column in (size if name == "size" else (kind.columns[name],))]
    by: dict[str, Counter[Any]] = {name: Counter() for name in names}
    for *values, number in rows.order_by().values_list(*columns).annotate(Count("pk")):
        left = iter(values)
        for name in names:
            value = _class_of(next(left), next(left)) if name == "size" else next(left)
            if value is not None:
                by[name][value] += number
    return by


def _class_of(sectors: int | None, sector_bytes: int | None) -> int | None:
    return size_class(sectors * (sector_bytes or 512)) if sectors else None


def facets(counts: Counts, kind: Kind, chosen: Mapping[str, str]) -> list[Facet]:
    """What can be chosen, in two queries for the names."""
    by = counts.by
    families, places = _words(Family, by["family"]), _words(Place, by["shelf"])
    return [
        _facet("part", "Part" if kind is PARTS else "Use", by["part"], lambda key: USES.get(key, str(key)), chosen),
        _facet("family", "Family", by["family"], lambda pk: families.get(pk, ""), chosen),
        _facet("size", "Capacity", by["size"], _size_words, chosen),
        _facet("shelf", "Shelf", by["shelf"], lambda pk: places.get(pk, ""), chosen),
    ]


def _words(model: Any, counted: Counter[Any]) -> dict[int, str]:
    keys = [key for key, _ in counted.most_common(MOST_FACETS + 1) if key]
    return {row.pk: str(row) for row in model.objects.filter(pk__in=keys)}


def _size_words(gb: int) -> str:
    return f"up to {gb:,} GB" if gb and gb < 1_000 else f"up to {gb // 1_000} TB" if gb else "larger"


def _facet(
    name: str, title: str, counted: Counter[Any], words: Callable[[Any], str], chosen: Mapping[str, str]
) -> Facet:
    shown = [(key, number) for key, number in counted.most_common(MOST_FACETS) if key is not None and words(key)]
    choices = [Choice(str(key), words(key), number, str(key) == chosen.get(name, "")) for key, number in shown]
    return Facet(name, title, choices)


@dataclass(frozen=True)
class Found:
    """What the page lists, parts or media: its rows, what they are counted by, how many they are, and how many of the
    others there would be.
    """

    what: str
    kind: Kind
    rows: Any
    counted: Counts
    totals: Mapping[str, int]


def find(asked: Asked, said: str, chosen: Mapping[str, str]) -> Found:
    """Parts or media: what the address says, then what the words say, then what there is."""
    both = _both(asked)
    what = _said(said, asked)
    kind, rows, counted = _look(asked, both, what or "parts", chosen)
    if not what and not counted.total and _what_there_is(both) == "media":  # asked last: it costs a walk
        kind, rows, counted = _look(asked, both, "media", chosen)
    totals = {name: counted.total if name == kind.what else each.count() for name, each in both.items()}
    return Found(kind.what, kind, rows, counted, totals)


def _both(asked: Asked) -> dict[str, Any]:
    known = Names.read()
    return {"parts": parts_for(asked, known), "media": media_for(asked, known)}


def _look(asked: Asked, both: Mapping[str, Any], what: str, chosen: Mapping[str, str]) -> tuple[Kind, Any, Counts]:
    kind = KINDS[what]
    rows = narrowed(both[what], kind, chosen)
    every = not (asked.narrows or any(chosen.values()))
    return kind, rows, Counts.of(rows, kind, every=every)


def _said(said: str, asked: Asked) -> str:
    what = said or asked.what
    return what if what in KINDS else ""


def _what_there_is(both: Mapping[str, Any]) -> str:
    return "parts" if both["parts"].exists() or not both["media"].exists() else "media"


def codes_of(address: str, *, most: int) -> list[str]:
    """The codes of everything that the find page with this query string lists, up to so many."""
    said = {name: values[-1] for name, values in parse_qs(address[:2000]).items()}
    asked = understand(said.get("q", "")[:200])
    both = _both(asked)
    what = _said(said.get("what", ""), asked) or _what_there_is(both)
    rows = narrowed(both[what], KINDS[what], said)
    return [codes.printed(code) for code in rows.order_by("thing__code").values_list("thing__code", flat=True)[:most]]


def patients_of(code: str) -> list[Item]:
    """The patients that a code of a case or of a patient stands for."""
    items = Item.objects.with_context().filter(parent=None)
    return list(items.filter(Q(thing__code=code) | Q(case__thing__code=code)).order_by("pk"))
