"""What to read next: the ordered list of spans of a pass, each with its direction, heads, step and reason.

Common practice, no source: most data for least stress. Every sector has five answers, and they decide its place:

1. **Does this pass read it?** Pass 1 reads what is unreached; pass 2 also what was skipped or is doubtful; later passes
   everything that is not read. Not what was already tried in this pass, nor a head that is dead or left out.
2. **What is it for?** Structures of the file system first (they tell where the rest lies), then the wanted areas in the
   customer's order, then the partitions, then the rest; a sector in several belongs to the first.
3. **Which head reads it?** Good heads, then slow ones; weak heads last. A sector of no known head counts as good.
4. **How far is it from damage?** The medium is cut into bands by distance from the nearest damage: the far ones first,
   the damaged spans themselves last. Damage is what was hinted ("outer", "inner", spans) and where the coverage has
   unreadable sectors, close ones taken together.
5. **Which way?** Forward, because reverse reading defeats read-ahead and is slow; but the band that lies behind a
   damaged span is read in reverse, so that the damage is come upon from its far side. A damaged span is entered from
   both its edges. In even passes, what is not near damage is read from the other side.

The order is: structures (sturdy heads before weak ones, damaged spans after sound ones); then sturdy heads outside
damage, sturdy heads inside damage, weak heads outside damage, weak heads inside it; within each by purpose, then good
before slow, then far before near, then by place. Structures on a weak head are not left for last: without them nobody
knows what is wanted there.

>>> plan = make_plan(
...     Coverage.from_rows(1_000, [(0, 10, "read")]),
...     structures=[Area("file table", [(0, 20)])],
...     wanted=[Area("recordings", [(500, 100)])],
...     heads=[Head(0, [(0, 550)]), Head(1, [(550, 450)], "weak")],
... )
>>> for row in plan.table()[1:]:
...     print(row[:7])
(1, 10, 10, 'forward', '0', 2048, 'structures')
(2, 500, 50, 'forward', '0', 2048, 'wanted')
(3, 20, 480, 'forward', '0', 2048, 'rest')
(4, 550, 50, 'forward', '1', 128, 'wanted')
(5, 600, 400, 'forward', '1', 128, 'rest')
>>> plan[3].why
'Wanted, number 1: recordings. Weak head: left for last.'

**How.** All boundaries of everything go into one sorted column; between two of them every sector has the same answers,
which are painted on as columns; what the pass does not read is dropped, neighbours with the same answers are joined,
and one sort by the answers gives the order. So every sector of the plan lies in exactly one span. Reading a part of a
plan and planning again gives the rest of it in the same order, until new damage shows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple, TypeAlias, overload

import numpy as np
import numpy.typing as npt

from labcases.bench.coverage import CODES, Coverage
from labcases.bench.spans import BadSpan, Ints, Rows, Span, read_spans, union
from labcases.bench.zones import WITHIN, Zone, cut, damaged

HeadState: TypeAlias = Literal["good", "slow", "weak", "dead", "left_out"]
Direction: TypeAlias = Literal["forward", "reverse"]
Edges: TypeAlias = tuple[Ints, Ints]  # firsts and ends of sorted spans that do not touch
Bools: TypeAlias = npt.NDArray[np.bool_]

PARTS = ("structures", "wanted", "partition", "rest")
WANTED, REST = 1, 3
RANKS: dict[HeadState, int] = {"good": 0, "slow": 1, "weak": 2, "dead": 3, "left_out": 4}
WEAK = RANKS["weak"]
STEPS = (2048, 128, 8, 1)  # sectors to go on by when something resists, per pass; the lab's to change
READS = (  # states a pass reads; the last line is for all later passes
    ("unreached",),
    ("unreached", "skipped", "doubtful"),
    ("unreached", "skipped", "doubtful", "left_out", "unreadable"),
)
KEPT_BACK = ("waits for a later pass", "already tried in this pass", "not asked for", "head is dead", "head left out")


@dataclass(frozen=True, slots=True)
class Area:
    """A named set of spans ``(first_lba, sectors)``: a structure, something wanted, a partition."""

    name: str
    spans: Rows


@dataclass(frozen=True, slots=True)
class Head:
    """A head, the spans it reads, and how it does."""

    number: int
    spans: Rows
    state: HeadState = "good"


@dataclass(frozen=True, slots=True)
class PlannedSpan:
    """One line of the plan; ``order`` counts from 1. ``step`` is in sectors. ``heads`` is empty if none is known."""

    order: int
    first_lba: int
    sectors: int
    direction: Direction
    heads: tuple[int, ...]
    step: int
    part: str
    name: str
    why: str


class _Answers(NamedTuple):
    """Columns: what a stretch is for (part and area), how its head does, in which zone it lies."""

    part: Ints
    area: Ints
    rank: Ints
    zone: Ints


@dataclass(frozen=True, slots=True, eq=False)
class Plan(Sequence[PlannedSpan]):
    """The spans in the order to read them: a sequence that makes its lines when asked for them.

    ``firsts`` and ``sectors`` are all spans as columns, in order. ``kept_back`` says how many sectors that are not read
    yet this pass leaves alone, and why.
    """

    pass_number: int
    firsts: Ints
    sectors: Ints
    kept_back: dict[str, int]
    _answers: _Answers
    _band: Ints
    _reverse: Ints
    _step: Ints
    _names: tuple[tuple[str, ...], ...]
    _heads: tuple[tuple[int, Edges], ...]

    def __len__(self) -> int:
        return int(self.firsts.size)

    @overload
    def __getitem__(self, at: int) -> PlannedSpan: ...
    @overload
    def __getitem__(self, at: slice) -> list[PlannedSpan]: ...
    def __getitem__(self, at: int | slice) -> PlannedSpan | list[PlannedSpan]:
        chosen = np.atleast_1d(np.arange(len(self))[at])  # IndexError beyond the end, as a sequence does
        heads = self._heads_of(chosen)
        lines = [self._line(int(n), held) for n, held in zip(chosen, heads, strict=True)]
        return lines if isinstance(at, slice) else lines[0]

    def __iter__(self) -> Iterator[PlannedSpan]:
        for begin in range(0, len(self), 4096):
            yield from self[begin : begin + 4096]

    def table(self) -> list[tuple[int | str, ...]]:
        """The plan to export: a line of headings, then a line a span."""
        headings = ("order", "first sector", "sectors", "direction", "heads", "step", "part", "name", "why")
        lines = [
            (s.order, s.first_lba, s.sectors, s.direction, " ".join(map(str, s.heads)), s.step, s.part, s.name, s.why)
            for s in self
        ]
        return [headings, *lines]

    def _line(self, at: int, heads: tuple[int, ...]) -> PlannedSpan:
        part, area = int(self._answers.part[at]), int(self._answers.area[at])
        return PlannedSpan(
            order=at + 1,
            first_lba=int(self.firsts[at]),
            sectors=int(self.sectors[at]),
            direction="reverse" if self._reverse[at] else "forward",
            heads=heads,
            step=int(self._step[at]),
            part=PARTS[part],
            name=self._names[part][area],
            why=" ".join(self._why(at, part, area)),
        )

    def _why(self, at: int, part: int, area: int) -> Iterator[str]:
        name, rank, band = self._names[part][area], int(self._answers.rank[at]), int(self._band[at])
        yield (
            f"Structures first: {name} tells where the rest lies.",
            f"Wanted, number {area + 1}: {name}.",
            f"The rest of {name}.",
            "Neither wanted nor in a partition.",
        )[part]
        if rank:
            yield "Weak head: left for last." if rank == WEAK else "Slow head: after the good ones."
        if band == WITHIN:
            yield "Damaged span: entered late, from its edge inward."
        elif self._reverse[at] and band == 0:
            yield "Comes upon the damage from its far side."
        elif self._reverse[at]:
            yield f"Pass {self.pass_number}: from the other side."

    def _heads_of(self, chosen: Ints) -> list[tuple[int, ...]]:
        firsts, ends = self.firsts[chosen], self.firsts[chosen] + self.sectors[chosen]
        held: list[list[int]] = [[] for _ in range(chosen.size)]
        for number, (begin, end) in self._heads:
            met = np.searchsorted(begin, ends, side="left") > np.searchsorted(end, firsts, side="right")
            for at in np.flatnonzero(met):
                held[at].append(number)
        return [tuple(numbers) for numbers in held]


def make_plan(
    coverage: Coverage,
    *,
    pass_number: int = 1,
    structures: Sequence[Area] = (),
    wanted: Sequence[Area] = (),
    partitions: Sequence[Area] = (),
    heads: Sequence[Head] = (),
    damage: Sequence[str | Span] = (),
    tried: Rows = (),
    only_wanted: bool = False,
    low_is_outer: bool = True,
    steps: Sequence[int] = STEPS,
) -> Plan:
    """The spans that this pass still has to read, in order.

    ``damage`` holds "outer", "inner" and spans; ``low_is_outer`` says whether low sector numbers lie on outer tracks
    (not so in every family). ``tried`` are the spans that this pass has tried already. ``only_wanted`` leaves out what
    is neither structure nor wanted. Raises BadSpan for spans off the medium and for two heads that claim one sector.
    """
    if pass_number < 1 or not steps:
        raise ValueError("Passes count from 1, and at least one step size is needed.")
    total = coverage.total_sectors
    groups = [[_edges(area.spans, total) for area in group] for group in (structures, wanted, partitions)]
    reading, done = [_edges(head.spans, total) for head in heads], _edges(tried, total)
    _refuse_shared(heads, reading)
    zones = cut(total, damaged(coverage, damage, low_is_outer), pass_number)
    places = _boundaries(coverage, [edges for group in groups for edges in group] + [*reading, done], zones)
    ranks = np.array([*(RANKS[head.state] for head in heads), RANKS["good"]], np.int64)
    answers = _Answers(
        *_purposes(places, groups),
        ranks[_paint(places, reading)],  # painted -1, the last: no known head
        np.searchsorted(np.array([zone.first for zone in zones], np.int64), places, side="right") - 1,
    )
    reason = _reasons(coverage, places, answers, _paint(places, [done]) == 0, pass_number, only_wanted)
    firsts, sectors, joined = _joined(places, total, answers, reason == 0)
    band, reverse = (np.array([zone[at] for zone in zones], np.int64)[joined.zone] for at in (1, 2))
    order = _order(joined, band, reverse, firsts)
    grade = np.minimum(pass_number - 1 + ((joined.rank == WEAK) | (band == WITHIN)), len(steps) - 1)
    lengths = np.diff(places, append=total)
    return Plan(
        pass_number=pass_number,
        firsts=firsts[order],
        sectors=sectors[order],
        kept_back={
            why: int(lengths[reason == at].sum()) for at, why in enumerate(KEPT_BACK, 1) if (reason == at).any()
        },
        _answers=_Answers(*(answer[order] for answer in joined)),
        _band=band[order],
        _reverse=reverse[order],
        _step=np.array(steps, np.int64)[grade][order],
        _names=tuple(tuple(area.name for area in group) for group in (structures, wanted, partitions, (Area("", ()),))),
        _heads=tuple((h.number, edges) for h, edges in zip(heads, reading, strict=True) if RANKS[h.state] <= WEAK),
    )


def _edges(rows: Rows, total: int) -> Edges:
    firsts, sectors = read_spans(rows, total)
    return union(firsts, firsts + sectors)


def _refuse_shared(heads: Sequence[Head], reading: Sequence[Edges]) -> None:
    if not heads:
        return
    firsts, ends = (np.concatenate([edges[at] for edges in reading]) for at in (0, 1))
    owner = np.repeat([head.number for head in heads], [edges[0].size for edges in reading])
    order = np.argsort(firsts, kind="stable")
    firsts, ends, owner = firsts[order], ends[order], owner[order]
    shared = np.flatnonzero(firsts[1:] < ends[:-1])
    if shared.size:
        at = int(shared[0])
        raise BadSpan(f"Heads {owner[at]} and {owner[at + 1]} both claim sector {int(firsts[at + 1]):,}.")


def _boundaries(coverage: Coverage, painted: Sequence[Edges], zones: Sequence[Zone]) -> Ints:
    """Every place where an answer may change, sorted, each once, the first 0."""
    edges = [edge for pair in painted for edge in pair]
    places = np.unique(np.concatenate([coverage.starts, np.array([z.first for z in zones], np.int64), *edges]))
    return places[places < coverage.total_sectors]


def _paint(places: Ints, layers: Sequence[Edges]) -> Ints:
    """Which layer each stretch between two places lies in: the first that has it, or -1."""
    found = np.full(places.size, -1, np.int64)
    for at in range(len(layers) - 1, -1, -1):
        firsts, ends = layers[at]
        change = np.zeros(places.size + 1, np.int8)
        change[np.searchsorted(places, firsts)] = 1  # spans of a layer do not touch, so no place is written twice
        change[np.searchsorted(places, ends)] = -1
        found[np.cumsum(change[:-1], dtype=np.int8) > 0] = at
    return found


def _purposes(places: Ints, groups: Sequence[Sequence[Edges]]) -> tuple[Ints, Ints]:
    """Part and area of each stretch; a stretch in several belongs to the first."""
    known = [(part, at, edges) for part, group in enumerate(groups) for at, edges in enumerate(group)]
    label = _paint(places, [edges for _, _, edges in known])
    parts = np.array([*(part for part, _, _ in known), REST], np.int64)
    areas = np.array([*(at for _, at, _ in known), 0], np.int64)
    return parts[label], areas[label]  # painted -1, the last: the rest


def _reasons(
    coverage: Coverage, places: Ints, answers: _Answers, done: Bools, pass_number: int, only_wanted: bool
) -> Ints:
    """Why a stretch is not in the plan: 0 it is, -1 it is read, else a place in KEPT_BACK counted from 1."""
    state = coverage.codes[np.searchsorted(coverage.starts, places, side="right") - 1]
    reads = [CODES[name] for name in READS[min(pass_number, len(READS)) - 1]]
    return np.select(
        [
            state == CODES["read"],
            answers.rank == RANKS["dead"],
            answers.rank == RANKS["left_out"],
            (answers.part > WANTED) & only_wanted,
            done,
            ~np.isin(state, reads),
        ],
        [-1, 4, 5, 3, 2, 1],
    )


def _joined(places: Ints, total: int, answers: _Answers, planned: Bools) -> tuple[Ints, Ints, _Answers]:
    """Planned stretches, neighbours with the same answers joined: firsts, sectors, answers."""
    same = planned[1:] & planned[:-1]
    for answer in answers:
        same &= answer[1:] == answer[:-1]
    begins = planned & ~np.append(False, same)[: planned.size]
    ends = planned & ~np.append(same, False)[: planned.size]
    firsts = places[begins]
    return firsts, np.append(places[1:], total)[: places.size][ends] - firsts, _Answers(*(a[begins] for a in answers))


def _order(answers: _Answers, band: Ints, reverse: Ints, firsts: Ints) -> Ints:
    """The places of the spans in the order to read them; the text of the module says why."""
    weak, within = answers.rank == WEAK, band == WITHIN
    keys = (
        answers.part > 0,  # structures first
        2 * weak + within,
        answers.part,
        answers.area,
        answers.rank,
        np.where(within, answers.zone, band.max(initial=0) - band),
    )
    group = np.zeros(firsts.size, np.int64)
    for key in keys:  # one number for all answers: far quicker to sort by than one after the other
        group = group * (int(key.max(initial=0)) + 1) + key
    return np.lexsort((np.where(reverse > 0, -firsts, firsts), group))
