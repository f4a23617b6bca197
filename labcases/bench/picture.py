"""The coverage picture: lanes of pixel columns, as plain rows that a page or a paper draws; and the same as a table.

A lane is one head (or the whole medium, when the heads are not known), sector numbers run from left to right, and a
picture shows ``sectors`` sectors from ``first`` in ``columns`` pixel columns. Column ``c`` shows the sectors from
``first + c * sectors // columns`` up to where the next begins: whole numbers only, so nothing is lost between two
columns and nothing is shown twice. (Zoomed in so far that there are fewer sectors than columns, a sector is several
pixels wide.)

**Nothing rare is hidden.** Each column is a stack of the states found in it, strongest word at the bottom. The height
of a lane is shared out in proportion, but a state that is there at all gets its least height: a third of the lane for
`unreadable`, an eighth for the others. So one unreadable sector in a billion is a mark of a third of the lane's
height, and it is listed among the lane's ``ticks`` for a mark above the lane. Equal neighbours are joined to one block:

>>> from labcases.bench.coverage import Coverage
>>> disk = Coverage.from_rows(1_000_000_000, [(0, 700_000_000, "read"), (900_000_000, 1, "unreadable")])
>>> picture = draw(disk, columns=100, height=21)
>>> [(b.state, b.x, b.y, b.width, b.height) for b in picture.lanes[0].blocks]  # doctest: +NORMALIZE_WHITESPACE
[('read', 0, 0, 70, 21), ('unreadable', 90, 14, 1, 7), ('unreached', 70, 0, 20, 21), ('unreached', 90, 0, 1, 14),
 ('unreached', 91, 0, 9, 21)]
>>> picture.lanes[0].ticks
(Tick(x=90, width=1),)

The table says in words and numbers what the picture shows, with percentages cut off (see ``coverage.percent``); what is
there but would be cut to nothing is "under 0.01":

>>> [(row.state, row.sectors, row.percent) for row in picture.table if row.sectors]
[('read', 700000000, '70.00'), ('unreadable', 1, 'under 0.01'), ('unreached', 299999999, '29.99')]

**How.** With one lane, every run is put into the column where it begins, all lengths are added up per column and state
in one pass, and then only the runs that cross a column's edge, at most one a column, are moved over. With lanes, the
lanes' own spans are cut at the edges and counted piece by piece.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import repeat
from typing import NamedTuple

import numpy as np

from labcases.bench.coverage import STATES, Coverage, percent
from labcases.bench.spans import Codes, Ints, Rows, read_spans, union

DRAWN = tuple(reversed(STATES))  # bottom of a stack first
LEAST = {"unreadable": 3, "": 8}  # a state's least height: this part of the lane
EXACT = 2**53  # up to here floating-point sums of whole numbers are exact


@dataclass(frozen=True, slots=True)
class Lane:
    """What is asked for: a head's name and its spans ``(first_lba, sectors)``; None means the whole medium."""

    name: str
    spans: Rows | None = None


@dataclass(frozen=True, slots=True)
class Area:
    """A partition or a wanted area, to be bracketed above the lanes."""

    name: str
    first: int
    sectors: int
    wanted: bool = False


class Block(NamedTuple):
    """A rectangle of one state within a lane, in pixels from the lane's upper left corner.

    A texture needs room: a block narrower than about 4 pixels is better drawn in its state's plain colour.
    """

    state: str
    x: int
    y: int
    width: int
    height: int


class Tick(NamedTuple):
    """Columns in which something is unreadable."""

    x: int
    width: int


@dataclass(frozen=True, slots=True)
class DrawnLane:
    """One lane: its name, its blocks, its ticks."""

    name: str
    blocks: tuple[Block, ...]
    ticks: tuple[Tick, ...]


@dataclass(frozen=True, slots=True)
class Bracket:
    """An area's bracket: columns, and a level (0 is nearest to the lanes) so that brackets do not cover one another."""

    name: str
    x: int
    width: int
    level: int
    wanted: bool


@dataclass(frozen=True, slots=True)
class TableRow:
    """One state of one lane. ``first`` and ``last`` are where it is first and last met; None if it is not met."""

    lane: str
    state: str
    sectors: int
    percent: str
    first: int | None
    last: int | None


@dataclass(frozen=True, slots=True)
class Picture:
    """What a template draws, all in whole pixels and sectors."""

    first: int
    sectors: int
    columns: int
    height: int
    lanes: tuple[DrawnLane, ...]
    brackets: tuple[Bracket, ...]
    pointer: int | None
    table: tuple[TableRow, ...] = field(repr=False)


def draw(
    coverage: Coverage,
    *,
    first: int = 0,
    sectors: int | None = None,
    columns: int = 820,
    height: int = 28,
    lanes: Sequence[Lane] = (),
    areas: Iterable[Area] = (),
    position: int | None = None,
) -> Picture:
    """The picture of ``sectors`` sectors from ``first`` (None: to the end); ``position`` is the sector being read.

    Raises BadSpan (a ValueError) for a range or a lane that is not on the medium, ValueError for an impossible size.
    """
    length = coverage.total_sectors - first if sectors is None else sectors
    read_spans([(first, length)], coverage.total_sectors)
    if columns < 1 or height < 16:
        raise ValueError("A picture needs at least 1 column and 16 pixels of height.")
    scale = _Scale(first, length, columns)
    asked = lanes or (Lane("all sectors"),)
    pieces = [_pieces(coverage, lane, scale) for lane in asked]
    counted = [count_columns(coverage, scale.edges, cut) for cut in pieces]
    return Picture(
        first,
        length,
        columns,
        height,
        tuple(_drawn(lane.name, counts, scale, height) for lane, counts in zip(asked, counted, strict=True)),
        _brackets(areas, scale),
        scale.column_of(position) if position is not None else None,
        tuple(
            row
            for lane, counts, cut in zip(asked, counted, pieces, strict=True)
            for row in _table(coverage, lane.name, counts, cut, scale)
        ),
    )


class _Scale:
    """Sectors to pixels: ranges of sectors between ``edges``, each beginning at the pixel of ``pixels``."""

    def __init__(self, first: int, sectors: int, columns: int) -> None:
        self.first, self.sectors, self.columns = first, sectors, columns
        self.bins = bins = min(columns, sectors)
        # Python's integers: columns times sectors need not fit into 64 bits
        self.edges: Ints = np.array([first + b * sectors // max(bins, 1) for b in range(bins + 1)], np.int64)
        self.pixels: Ints = np.arange(bins + 1, dtype=np.int64) * columns // max(bins, 1)

    def column_of(self, sector: int) -> int | None:
        if not self.first <= sector < self.first + self.sectors:
            return None
        return int(self.pixels[np.searchsorted(self.edges, sector, side="right") - 1])


def count_columns(coverage: Coverage, edges: Ints, pieces: tuple[Ints, Ints] | None = None) -> Ints:
    """Sectors per column and state: an array of (columns, states), states by their codes.

    ``edges`` has one entry more than there are columns, rising. ``pieces`` are a lane's spans ``[first, end)`` cut at
    the edges, in order; None counts every sector between the edges.
    """
    if edges.size < 2:
        return np.zeros((0, len(STATES)), np.int64)
    if pieces is not None:
        return _count_pieces(coverage, edges, *pieces)
    if edges[-1] - edges[0] < EXACT:
        return _count_runs(coverage, edges)
    return np.stack([coverage.count_each(state, edges[:-1], np.diff(edges)) for state in STATES], axis=1)


def _count_runs(coverage: Coverage, edges: Ints) -> Ints:
    columns, states = edges.size - 1, len(STATES)
    begin = int(np.searchsorted(coverage.starts, edges[0], side="right")) - 1
    end = int(np.searchsorted(coverage.starts, edges[-1], side="left"))
    starts, codes = coverage.starts[begin:end], coverage.codes[begin:end]
    cuts = np.searchsorted(starts, edges[1:-1], side="left")  # the first run that begins in each later column
    lengths = np.diff(starts, append=edges[-1])
    lengths[0] -= max(0, int(edges[0] - starts[0]))
    where = np.repeat(np.arange(columns, dtype=np.int64) * states, np.diff(cuts, prepend=0, append=starts.size))
    where += codes
    sums = np.bincount(where, lengths, columns * states).astype(np.int64).reshape(columns, states)
    _move_over(sums, edges, cuts, starts, codes)
    return sums


def _move_over(sums: Ints, edges: Ints, cuts: Ints, starts: Ints, codes: Codes) -> None:
    """Runs that reach beyond the column where they begin: their parts given to the columns where they lie."""
    runs = cuts - 1  # the run in which each inner edge lies, or which ends there
    after = np.minimum(runs + 1, starts.size - 1)  # no copy of all starts for a few of them
    ends = np.where(runs + 1 < starts.size, starts[after], edges[-1])
    part = np.clip(ends, edges[1:-1], edges[2:]) - edges[1:-1]
    home = np.searchsorted(edges[1:-1], starts[runs], side="right")
    np.add.at(sums, (np.arange(1, edges.size - 1), codes[runs]), part)
    np.subtract.at(sums, (home, codes[runs]), part)


def _count_pieces(coverage: Coverage, edges: Ints, firsts: Ints, ends: Ints) -> Ints:
    column = np.searchsorted(edges, firsts, side="right") - 1
    sums = np.zeros((edges.size - 1, len(STATES)), np.int64)
    for code, state in enumerate(STATES):
        np.add.at(sums[:, code], column, coverage.count_each(state, firsts, ends - firsts))
    return sums


def _pieces(coverage: Coverage, lane: Lane, scale: _Scale) -> tuple[Ints, Ints] | None:
    """A lane's spans within the picture, cut at the columns' edges."""
    if lane.spans is None:
        return None
    firsts, sectors = read_spans(lane.spans, coverage.total_sectors)
    firsts, ends = union(firsts, firsts + sectors)
    edges = scale.edges
    if not edges.size:
        return firsts[:0], ends[:0]
    firsts, ends = union(np.maximum(firsts, edges[0]), np.minimum(ends, edges[-1]))
    inner = edges[1:-1]
    within = np.searchsorted(firsts, inner, side="right") - 1  # the span that may hold each edge
    cut = inner[(within >= 0) & (firsts[within] < inner) & (inner < ends[within])] if firsts.size else inner[:0]
    return np.sort(np.concatenate((firsts, cut))), np.sort(np.concatenate((ends, cut)))


def _drawn(name: str, counts: Ints, scale: _Scale, height: int) -> DrawnLane:
    heights = _heights(counts[:, ::-1], height)  # strongest first, as drawn
    tops = height - np.cumsum(heights, axis=1)
    pixels = scale.pixels
    blocks: list[Block] = []
    for at, state in enumerate(DRAWN):
        x, width, tall, top = _joined(heights[:, at], tops[:, at], pixels)
        blocks += map(Block, repeat(state), x, top, width, tall)
    bad = (counts[:, STATES.index("unreadable")] > 0).astype(np.int64)
    x, width, _, _ = _joined(bad, bad, pixels)
    return DrawnLane(name, tuple(blocks), tuple(map(Tick, x, width)))


def _heights(counts: Ints, height: int) -> Ints:
    """Whole pixels per column and state that fill the lane; what is there has at least its least height."""
    least = np.array([height // LEAST.get(state, LEAST[""]) for state in DRAWN], np.int64)
    heights: Ints = np.where(counts > 0, least, 0)
    sizes = counts.sum(axis=1)
    left = np.where(sizes > 0, height - heights.sum(axis=1), 0)
    shares = counts / np.maximum(sizes, 1)[:, None]
    heights += np.floor(shares * left[:, None]).astype(np.int64)
    most = np.argmax(counts, axis=1)  # what rounding left over goes to the commonest state
    heights[np.arange(counts.shape[0]), most] += np.where(sizes > 0, height - heights.sum(axis=1), 0)
    return heights


def _joined(heights: Ints, tops: Ints, pixels: Ints) -> tuple[list[int], list[int], list[int], list[int]]:
    """Equal neighbours as columns: pixel, width, height, top; what has no height is left out."""
    new = np.append(True, (heights[1:] != heights[:-1]) | (tops[1:] != tops[:-1]))[: heights.size]
    begins = np.flatnonzero(new)
    ends = np.append(begins[1:], heights.size)[: begins.size]
    seen = heights[begins] > 0
    begins, ends = begins[seen], ends[seen]
    x = pixels[begins]
    return x.tolist(), (pixels[ends] - x).tolist(), heights[begins].tolist(), tops[begins].tolist()


def _brackets(areas: Iterable[Area], scale: _Scale) -> tuple[Bracket, ...]:
    brackets: list[Bracket] = []
    taken: list[int] = []  # per level, the pixel after the last bracket
    for area in sorted(areas, key=lambda area: (area.first, -area.sectors)):
        begin, end = max(area.first, scale.first), min(area.first + area.sectors, scale.first + scale.sectors)
        x, last = scale.column_of(begin), scale.column_of(end - 1)
        if begin >= end or x is None or last is None:
            continue
        level = next((n for n, upto in enumerate(taken) if upto <= x), len(taken))
        width = max(last - x + 1, scale.columns // max(scale.bins, 1))
        taken[level : level + 1] = [x + max(width - 1, 1)]  # neighbours may share the column where they meet
        brackets.append(Bracket(area.name, x, width, level, area.wanted))
    return tuple(brackets)


def _table(
    coverage: Coverage, name: str, counts: Ints, pieces: tuple[Ints, Ints] | None, scale: _Scale
) -> Iterable[TableRow]:
    sums = counts.sum(axis=0).tolist()
    for state, sectors in zip(DRAWN, reversed(sums), strict=True):
        if not sectors:
            yield TableRow(name, state, 0, "0.00", None, None)
            continue
        shown = percent(sectors, sum(sums))
        first, last = _ends(coverage, state, counts, pieces, scale)
        yield TableRow(name, state, sectors, "under 0.01" if shown == "0.00" else shown, first, last)


def _ends(
    coverage: Coverage, state: str, counts: Ints, pieces: tuple[Ints, Ints] | None, scale: _Scale
) -> tuple[int, int]:
    """Where a state that is there is first and last met."""
    if pieces is None:
        code = STATES.index(state)
        bins = np.flatnonzero(counts[:, code])[[0, -1]]  # only the outermost columns are looked through
        ranges = zip(scale.edges[bins].tolist(), scale.edges[bins + 1].tolist(), strict=True)
        (first, _), (_, last) = (_ends_among_runs(coverage, code, *between) for between in ranges)
        return first, last
    firsts, ends = pieces
    met = np.flatnonzero(coverage.count_each(state, firsts, ends - firsts))
    known, lengths = coverage.columns(state)
    begin = int(np.searchsorted(known + lengths, firsts[met[0]], side="right"))
    end = int(np.searchsorted(known, ends[met[-1]], side="left")) - 1
    return max(int(known[begin]), int(firsts[met[0]])), min(int(known[end] + lengths[end]), int(ends[met[-1]])) - 1


def _ends_among_runs(coverage: Coverage, code: int, first: int, end: int) -> tuple[int, int]:
    """The same between two sectors, without an index of the state: drawing must not have to build one."""
    begin = int(np.searchsorted(coverage.starts, first, side="right")) - 1
    after = int(np.searchsorted(coverage.starts, end, side="left"))
    met = np.flatnonzero(coverage.codes[begin:after] == code) + begin
    runs_end = int(coverage.starts[met[-1] + 1]) if met[-1] + 1 < coverage.starts.size else coverage.total_sectors
    return max(first, int(coverage.starts[met[0]])), min(end, runs_end) - 1
