"""The reading of an item: its coverage, what of it lies where, its heads."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from django.urls import reverse

from labcases.bench import heads
from labcases.bench.coverage import STATES, Coverage, percent
from labcases.bench.plan import Area, Head
from labcases.bench.position import stands_at
from labcases.bench.reading.models import (
    CoverageUpload,
    Derivation,
    HeadMap,
    HeadVerdict,
    ItemCoverage,
    KeptLayout,
    ReadingArea,
)
from labcases.bench.reading.parts import name_of
from labcases.bench.stored import NotStored, unpack, unpack_columns
from labcases.cases.models import Item
from labcases.core import vault

SHOWN = tuple(reversed(STATES))
NEWEST = 5  # uploads that are looked through for where the reading stands


@dataclass(frozen=True)
class Counted:
    """Sectors by state within something: the medium, a partition, a head, what a wanted line asks for."""

    name: str
    sectors: int
    counts: Mapping[str, int]
    address: str = ""

    @property
    def share(self) -> str:
        """Per cent read, floored."""
        return percent(self.counts["read"], self.sectors)

    @property
    def cells(self) -> list[int]:
        return [self.counts[state] for state in SHOWN]

    @property
    def rest(self) -> list[int]:
        """What is not read, by state."""
        return self.cells[1:]

    @property
    def mark(self) -> str:
        """The mark it is shown under."""
        if self.counts["read"] == self.sectors:
            return "whole"
        return "partial" if self.counts["read"] else "no" if self.counts["unreached"] < self.sectors else "unknown"

    @property
    def in_words(self) -> str:
        return {"whole": "whole", "partial": "partial", "no": "not read", "unknown": "not tried yet"}[self.mark]


@dataclass(frozen=True)
class HeadRow:
    """A head as its readings show it, and what somebody decided about it."""

    said: heads.HeadSaid
    verdict: HeadVerdict | None
    counted: Counted

    @property
    def state(self) -> Any:
        return self.verdict.state if self.verdict else self.said.state

    @property
    def words(self) -> str:
        told = self.verdict is not None or self.said.known
        return str(HeadVerdict.State(self.state).label) if told else "too early to tell"

    @property
    def mark(self) -> str:
        """The mark it is shown under."""
        if self.verdict is None and not self.said.known:
            return "unknown"
        return {"good": "whole", "slow": "near", "weak": "near", "dead": "different"}.get(self.state, "not applicable")


@dataclass(frozen=True)
class Stands:
    """Where the reading stands: the sector at which an upload ends, and that upload."""

    sector: int
    upload: CoverageUpload


@dataclass
class Read:
    """Everything about the reading of one item. Queries run when first asked for."""

    item: Item
    state: ItemCoverage | None = None
    uploads: Sequence[CoverageUpload] = field(default_factory=list)

    @property
    def derivation(self) -> Derivation | None:
        return self.state.derivation if self.state else None

    @cached_property
    def coverage(self) -> Coverage | None:
        """The coverage, from the vault; worked out in memory when its file is gone; None when nothing was uploaded."""
        return coverage_of(self.derivation)

    @cached_property
    def newest(self) -> Sequence[CoverageUpload]:
        """The last of the standing uploads that say what was read, newest first."""
        told = [upload for upload in self.uploads if upload.verb == CoverageUpload.Verb.OVERLAY]
        return told[: -NEWEST - 1 : -1]

    @cached_property
    def stands(self) -> Stands | None:
        """Where the reading stands, as the newest upload that tried anything leaves it; None when none of them did."""
        for upload in self.newest:
            columns = unpack_columns(vault.get(upload.spans))
            sector = stands_at(columns["first"], columns["sectors"], columns["state"])
            if sector is not None and sector < self.total:
                return Stands(sector, upload)
        return None

    @property
    def total(self) -> int:
        """Sectors of the medium, as the coverage knows it."""
        return self.derivation.total_sectors if self.derivation else self.item.sectors or 0

    @property
    def sector_bytes(self) -> int:
        return self.item.sector_bytes or 512

    @cached_property
    def layout(self) -> KeptLayout | None:
        return KeptLayout.objects.filter(item=self.item).last()

    @property
    def parts(self) -> list[dict[str, Any]]:
        """The parts of the newest layout that lie on the medium."""
        known = self.layout.parts if self.layout else []
        return [part for part in known if part["first_lba"] + part["sectors"] <= self.total]

    @cached_property
    def head_map(self) -> HeadMap | None:
        return HeadMap.objects.filter(item=self.item).last()

    @cached_property
    def head_spans(self) -> dict[int, tuple[Any, Any]]:
        """First sectors and lengths of each head's spans."""
        if self.head_map is None:
            return {}
        columns = unpack_columns(vault.get(self.head_map.spans))
        inside = columns["first"] + columns["sectors"] <= self.total
        chosen = {head: inside & (columns["head"] == head) for head in self.head_map.heads}
        return {head: (columns["first"][mine], columns["sectors"][mine]) for head, mine in chosen.items()}

    @cached_property
    def verdicts(self) -> dict[int, HeadVerdict]:
        """What was decided about each head last; "computed" takes it back."""
        rows = HeadVerdict.objects.filter(item=self.item).select_related("by")
        newest = {row.head: row for row in rows}
        return {head: row for head, row in newest.items() if row.state != HeadVerdict.State.COMPUTED}

    @cached_property
    def areas(self) -> list[ReadingArea]:
        rows = ReadingArea.objects.filter(item=self.item, dropped=None).select_related("wanted", "by")
        return sorted(rows, key=lambda area: (area.wanted.number if area.wanted else -1, area.pk))

    @cached_property
    def delays(self) -> heads.Delays | None:
        """Delays of all standing uploads that told them."""
        told = [upload for upload in self.uploads if upload.how.get("delays")]
        tables = [unpack_columns(vault.get(upload.spans)) for upload in told]
        columns = (
            [np.concatenate([table[name] for table in tables]) for name in ("first", "sectors", "delay")]
            if tables
            else []
        )
        return heads.Delays(*columns) if columns else None

    @cached_property
    def head_rows(self) -> list[HeadRow]:
        if self.coverage is None or not self.head_spans:
            return []
        rows = {head: [first, sectors] for head, (first, sectors) in self.head_spans.items()}
        said = heads.judge(self.coverage, rows, self.delays)
        return [
            HeadRow(one, self.verdicts.get(one.number), self._counted(f"head {one.number}", rows[one.number]))
            for one in said
        ]

    def _counted(self, name: str, spans: Any, address: str = "") -> Counted:
        coverage = self.coverage or Coverage.from_rows(self.total)
        counts = {state: coverage.count_in(state, spans) for state in SHOWN}
        return Counted(name, sum(counts.values()), counts, address)

    def counted(self) -> Counted | None:
        """The whole medium, from the row alone."""
        made = self.derivation
        if made is None:
            return None
        return Counted("whole medium", made.total_sectors, {state: getattr(made, state) for state in SHOWN})

    def counted_parts(self) -> list[Counted]:
        """Each partition."""
        if self.coverage is None:
            return []
        own = reverse("bench:coverage", args=[self.item.thing.printed_code])
        return [
            self._counted(name_of(part), [(part["first_lba"], part["sectors"])], f"{own}?part={part['number']}")
            for part in self.parts
        ]

    def counted_areas(self) -> list[Counted]:
        """The structures, then each line of the wanted list that has areas here, in order: its spans taken together."""
        if self.coverage is None:
            return []
        return [self._counted(area.name, area.spans) for area in [*self.structures(), *self.wanted()]]

    def structures(self) -> list[Area]:
        own = [area for area in self.areas if area.wanted is None]
        return [Area(area.name, spans_of(area)) for area in own]

    def wanted(self) -> list[Area]:
        """One area a wanted line, in the customer's order, all its spans together."""
        lines = {area.wanted_id: area.wanted for area in self.areas if area.wanted}
        return [
            Area(f"{line.number}. {line.what}", _together([spans_of(a) for a in self.areas if a.wanted_id == pk]))
            for pk, line in lines.items()
        ]

    def wanted_missing(self) -> int:
        """Bytes of what is wanted and not read, each sector counted once; 0 when nothing was tied to a place."""
        areas = [area.spans for area in self.wanted()]
        if self.coverage is None or not areas:
            return 0
        spans = _together(areas)
        total = sum(self.coverage.count_in(state, spans) for state in STATES if state != "read")
        return int(total) * self.sector_bytes

    def planned_heads(self) -> list[Head]:
        return [Head(row.said.number, list(self.head_spans[row.said.number]), row.state) for row in self.head_rows]


def _together(spans: Sequence[Any]) -> list[Any]:
    """Spans of several areas as two columns."""
    return [np.concatenate([columns[at] for columns in spans]) for at in (0, 1)]


def spans_of(area: ReadingArea) -> list[Any]:
    columns = unpack_columns(vault.get(area.spans))
    return [columns["first"], columns["sectors"]]


def coverage_of(derivation: Derivation | None) -> Coverage | None:
    """The coverage of a derivation; None when there is none, or when its file is gone and must be worked out again."""
    if derivation is None:
        return None
    try:
        return unpack(vault.get(derivation.digest))
    except (FileNotFoundError, vault.Damaged, NotStored):
        return None


def read_of(item: Item) -> Read:
    """The reading of an item, for its own pages."""
    state = ItemCoverage.objects.select_related("derivation").filter(item=item).first()
    uploads = list(CoverageUpload.objects.standing().filter(item=item).select_related("by", "item__thing"))
    return Read(item, state, uploads)
