"""What is asked when parts are given out: who waits, what is free, and which could serve whom.

Equal traits are one *sort*: patients and parts are judged sort by sort, and only pairs of sorts in which the part
may be suggested are kept. :mod:`labcases.stock.allocation` answers the question.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labcases.media.traits import Traits
from labcases.stock.expected import BANDS, Band
from labcases.stock.matching import GRADES, NO_HISTORY, Grade, compared_traits
from labcases.stock.rules import PartKind, Rule
from labcases.stock.table import Table, judge_table

RulesFor = Callable[[PartKind, Traits], Sequence[Rule]]
Chance = Callable[[str | None, PartKind, Band], float | None]
Places = NDArray[np.int64]

SERVES = (Grade.FITS, Grade.CHECK)  # verdicts that may be suggested


@dataclass(frozen=True, slots=True)
class Waiting:
    """One part that one patient waits for; a patient that needs two parts waits twice."""

    key: Hashable
    kind: PartKind
    traits: Traits


@dataclass(frozen=True, slots=True)
class FreePart:
    """A part that may be given."""

    key: Hashable
    kind: PartKind
    traits: Traits


@dataclass(frozen=True, slots=True)
class Pair:
    """One part for one patient. ``success`` is from 0 to 1, None with no history."""

    patient: Hashable
    part: Hashable
    grade: Grade
    score: int
    success: float | None


def no_history(family: str | None, kind: PartKind, band: Band) -> float | None:
    """Expected success where nothing was ever recorded."""
    return None


@dataclass(frozen=True, slots=True)
class Question:
    """One kind of part: patients by sort, parts by sort, and each pair of sorts in which the part may be suggested.

    ``rows[i]`` is the sort of patient i, ``members[s]`` the parts of sort s. The other arrays go together, one
    place for each pair of sorts, those of one sort of patient side by side from ``start[r]`` to ``start[r + 1]``:
    ``sort`` of the part, ``grade``, ``score``, and ``success`` in thousandths, below 0 with no history.
    """

    patients: Sequence[Waiting]
    parts: Sequence[FreePart]
    rows: Places
    members: Sequence[Sequence[int]]
    start: Places
    sort: Places
    grade: Places
    score: Places
    success: Places

    @property
    def even(self) -> Places:
        """Expected success in thousandths, with no history as even."""
        return np.where(self.success < 0, round(1000 * NO_HISTORY), self.success)

    def pairs(self, chosen: Places, like: Places | None = None) -> list[Pair]:
        """Name a part for each patient, given the place of the pair of sorts it gets (-1: none).

        Where ``like`` gives a patient the same sort, the same part is named, so that no change is shown where
        there is none.
        """
        named = self._named(chosen if like is None else like, {})
        if like is not None:
            named = self._named(
                chosen, {i: named[i] for i in np.flatnonzero((chosen == like) & (chosen >= 0)).tolist()}
            )
        return [self._pair(i, chosen[i], part) for i, part in sorted(named.items())]

    def _named(self, chosen: Places, settled: dict[int, int]) -> dict[int, int]:
        """A part of its sort for each patient, in turn; what is settled stays."""
        named, taken = dict(settled), set(settled.values())
        left: dict[int, Iterator[int]] = {}
        for i, sort in enumerate(np.where(chosen >= 0, self.sort[chosen], -1).tolist() if len(self.sort) else []):
            if sort >= 0 and i not in named:
                if sort not in left:
                    left[sort] = (part for part in self.members[sort] if part not in taken)
                named[i] = next(left[sort])
        return named

    def _pair(self, i: int, place: int, part: int) -> Pair:
        success = int(self.success[place])
        return Pair(
            patient=self.patients[i].key,
            part=self.parts[part].key,
            grade=GRADES[self.grade[place]],
            score=int(self.score[place]),
            success=None if success < 0 else success / 1000,
        )


def judge_all(
    kind: PartKind, patients: Sequence[Waiting], parts: Sequence[FreePart], rules_for: RulesFor, chance: Chance
) -> Question:
    """Judge every sort of patient against every sort of part: equal traits are one sort, and judged once."""
    rules = [tuple(rules_for(kind, one.traits)) for one in patients]
    compared = compared_traits({rule for each in rules for rule in each})
    keys = ((each, one.traits.family, compared(one.traits)) for each, one in zip(rules, patients, strict=True))
    rows, sorts = _sorts(keys)
    columns, part_sorts = _sorts(compared(part.traits) for part in parts)
    table = _judge_sorts([(rules[i], patients[i].traits) for i in sorts], [parts[j].traits for j in part_sorts])
    row, sort = np.divmod(table.at, max(len(part_sorts), 1))
    success = _success([patients[i].traits.family for i in sorts], kind, chance)[row, table.score]
    members: list[list[int]] = [[] for _ in part_sorts]
    for part, its_sort in enumerate(columns.tolist()):
        members[its_sort].append(part)
    start = np.searchsorted(row, np.arange(len(sorts) + 1))
    grade, score = table.grade.astype(np.int64), table.score.astype(np.int64)
    return Question(patients, parts, rows, members, start, sort, grade, score, success)


def _sorts(keys: Iterable[Hashable]) -> tuple[Places, list[int]]:
    """For each key the place of its sort, and for each sort where it was first met."""
    places: dict[Hashable, int] = {}
    first: list[int] = []
    index = []
    for n, key in enumerate(keys):
        place = places.setdefault(key, len(places))
        if place == len(first):
            first.append(n)
        index.append(place)
    return np.array(index, dtype=np.int64), first


def _judge_sorts(patients: Sequence[tuple[tuple[Rule, ...], Traits]], parts: Sequence[Traits]) -> Table:
    """One table of the pairs that may be suggested, though families may have rules of their own."""
    by_rules: dict[tuple[Rule, ...], list[int]] = defaultdict(list)
    for place, (rules, _) in enumerate(patients):
        by_rules[rules].append(place)
    found = []
    for rules, places in by_rules.items():
        table = judge_table([patients[place][1] for place in places], parts, rules)
        keep = np.isin(table.grade, [GRADES.index(grade) for grade in SERVES])
        row, column = np.divmod(table.at[keep], max(len(parts), 1))
        found.append((np.array(places)[row] * len(parts) + column, table.grade[keep], table.score[keep]))
    at, grade, score = (np.concatenate(columns) for columns in zip(*found, strict=True))
    order = np.argsort(at)
    return Table((len(patients), len(parts)), at[order], grade[order], score[order])


def _success(families: Sequence[str | None], kind: PartKind, chance: Chance) -> Places:
    """Expected success in thousandths by [sort of patient, score], -1 with no history."""
    shares = {family: [chance(family, kind, band) for band in BANDS] for family in set(families)}
    by_score = np.full((len(families), 101), -1, dtype=np.int64)
    for row, family in enumerate(families):
        for band, share in zip(BANDS, shares[family], strict=True):
            by_score[row, band.low : band.high + 1] = -1 if share is None else round(1000 * share)
    return by_score
