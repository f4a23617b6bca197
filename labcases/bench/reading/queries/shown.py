"""What is shown of a reading: a window on the medium, the picture, the docket's section, the facts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from labcases.bench import drawing, picture
from labcases.bench.reading.models import CoverageUpload, HeadMap, ItemCoverage, KeptLayout, ReadingArea
from labcases.bench.reading.parts import name_of
from labcases.bench.reading.queries.read import NEWEST, Counted, Read, Stands
from labcases.bench.spans import BadSpan
from labcases.cases.models import Case, Item

MOST_DRAWN = 6  # pictures on the page of a case; more items are told in numbers


@dataclass(frozen=True)
class Window:
    """The part of the medium that is looked at."""

    first: int
    sectors: int
    words: str = ""

    @property
    def last(self) -> int:
        return self.first + max(self.sectors - 1, 0)


def window(read: Read, part: str = "", first: str = "", last: str = "") -> Window:
    """What an address asks to see: a partition, or sectors from–to; the whole medium otherwise. Raises BadSpan."""
    total = read.total
    if part:
        known = {str(one["number"]): one for one in read.parts}
        if part not in known:
            raise BadSpan(f"There is no partition {part[:20]} in the layout that is kept.")
        return Window(known[part]["first_lba"], known[part]["sectors"], f"partition {name_of(known[part])}")
    if not first and not last:
        return Window(0, total)
    begin, end = _sector(first or "0"), _sector(last or str(max(total - 1, 0)))
    if not 0 <= begin <= end < total:
        raise BadSpan(f"Give sectors from 0 to {max(total - 1, 0):,}, the first before the last.")
    return Window(begin, end - begin + 1, f"sectors {begin:,} to {end:,}")


def _sector(text: str) -> int:
    plain = text.replace(",", "").replace(" ", "").strip()
    if not plain.isascii() or not plain.isdigit() or len(plain) > 20:
        raise BadSpan(f"“{text[:30]}” is no sector number.")
    return int(plain)


@dataclass(frozen=True)
class Line:
    """A line of the table that says what the picture shows."""

    lane: str
    words: str
    sectors: int
    percent: str
    first: int | None
    last: int | None


@dataclass(frozen=True)
class Drawn:
    """A picture to be shown, and the table that says the same."""

    sheet: drawing.Sheet
    says: str
    legend: list[tuple[drawing.Sheet, str]]
    lines: Sequence[Line]
    window: Window
    stands: Stands | None = None


def drawn(
    read: Read, seen: Window, *, key: str, ink: drawing.Ink = drawing.SCREEN, height: int = 28, over: bool = False
) -> Drawn | None:
    """The coverage picture of a window: a lane a head where the heads are known. None without a coverage.

    It points to where the reading stands, unless the work is ``over``.
    """
    if read.coverage is None or not seen.sectors:
        return None
    lanes = [picture.Lane(f"head {head}", list(spans)) for head, spans in read.head_spans.items()]
    made = picture.draw(
        read.coverage, first=seen.first, sectors=seen.sectors, lanes=lanes, areas=list(_areas(read)), height=height,
        position=read.stands.sector if read.stands and not over else None,
    )  # fmt: skip
    says = f"What was read of {read.item}; the table below says the same"
    legend = [(drawing.swatch(state, key=key, ink=ink), name) for state, name in drawing.STATE_WORDS.items()]
    words = drawing.STATE_WORDS
    lines = [Line(r.lane, words[r.state], r.sectors, r.percent, r.first, r.last) for r in made.table]
    return Drawn(drawing.lay_out(made, key=key, ink=ink), says, legend, lines, seen, None if over else read.stands)


def _areas(read: Read) -> Iterator[picture.Area]:
    for part in read.parts:
        yield picture.Area(name_of(part), part["first_lba"], part["sectors"])
    for area in read.wanted():
        firsts, sectors = area.spans
        if len(firsts):
            begin, end = int(firsts.min()), int((firsts + sectors).max())
            yield picture.Area(area.name, begin, end - begin, wanted=True)


@dataclass(frozen=True)
class ItemReading:
    """One item in the docket's section Reading."""

    item: Item
    counted: Counted | None
    drawn: Drawn | None
    behind: bool
    trouble: str
    uploads: int


def section_of(case: Case) -> list[ItemReading]:
    """The docket's section Reading: as many queries for one item as for twelve."""
    items = list(case.items.select_related("thing", "case__thing"))
    states = {s.item_id: s for s in ItemCoverage.objects.filter(item__case=case).select_related("derivation")}
    uploads: dict[int, int] = {}
    newest: dict[int, list[int]] = {}
    standing = CoverageUpload.objects.standing().filter(item__case=case)
    for item_pk, pk, verb in standing.values_list("item", "pk", "verb"):
        uploads[item_pk] = uploads.get(item_pk, 0) + 1
        if verb == CoverageUpload.Verb.OVERLAY:
            newest.setdefault(item_pk, []).append(pk)
    last = CoverageUpload.objects.in_bulk([pk for pks in newest.values() for pk in pks[-NEWEST:]])
    layouts = {row.item_id: row for row in KeptLayout.objects.filter(item__case=case)}
    maps = {row.item_id: row for row in HeadMap.objects.filter(item__case=case)}
    areas: dict[int, list[ReadingArea]] = {}
    for area in ReadingArea.objects.filter(item__case=case, dropped=None).select_related("wanted"):
        areas.setdefault(area.item_id, []).append(area)
    made = []
    for item in items:
        read = Read(item, states.get(item.pk))
        read.layout, read.head_map, read.areas = layouts.get(item.pk), maps.get(item.pk), areas.get(item.pk, [])
        read.newest = [last[pk] for pk in newest.get(item.pk, [])[: -NEWEST - 1 : -1]]
        made.append(_of_item(read, uploads.get(item.pk, 0), len(states) <= MOST_DRAWN))
    return made


def _of_item(read: Read, uploads: int, draw: bool) -> ItemReading:
    state, counted = read.state, read.counted()
    whole = Window(0, counted.sectors if counted else 0)
    shown = drawn(read, whole, key=f"i{read.item.number}") if counted and draw else None
    return ItemReading(
        read.item, counted, shown, bool(state and not state.up_to_date), state.trouble if state else "", uploads
    )


def facts(items: Sequence[Item]) -> dict[int, dict[str, Any]]:
    """What a coverage knows of each item, in one query."""
    rows = ItemCoverage.objects.filter(item__in=[item.pk for item in items]).exclude(derivation=None)
    return {
        pk: {"coverage_read": read, "coverage_total": total}
        for pk, read, total in rows.values_list("item", "derivation__read", "derivation__total_sectors")
    }
