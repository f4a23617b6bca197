"""What is asked when parts are given out: who waits, what is free, and which could serve whom.

Equal traits are one *sort*: patients and parts are judged sort by sort, and only pairs of sorts in which the part
may be suggested are kept. :mod:`labcases.stock.allocation` answers the question.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from labcases.media.traits import Traits
from labcases.stock.expected import BANDS, Band
from labcases.stock.matching import GRADES, NO_HISTORY, Grade, compared_traits
from labcases.stock.rules import PartKind, Rule
from labcases.stock.table import judge_table

RulesFor = Callable[[PartKind, Traits], Sequence[Rule]]
Chance = Callable[[str | None, PartKind, Band], float | None]
Numbers = NDArray[np.int64]

SERVES = (Grade.FITS, Grade.CHECK)  # verdicts that may be suggested
SCORES = 101  # 0 to 100


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


class Pair(NamedTuple):
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
    """One kind of part: patients by sort, parts by sort, and the fit of each pair of sorts.

    ``rows[i]`` is the sort of patient i, ``members[s]`` the parts of sort s; sorts of parts that may be suggested to
    nobody are left out. Pairs are far more than fits: ``fits[r, s]`` is a fit's number, 0 where the part may not be
    suggested, and by that number stand its ``grade``, ``score`` and ``success`` in thousandths, below 0 with no
    history.
    """

    patients: Sequence[Waiting]
    parts: Sequence[FreePart]
    rows: Numbers
    members: Sequence[Sequence[int]]
    fits: Numbers
    grade: Numbers
    score: Numbers
    success: Numbers

    @property
    def even(self) -> Numbers:
        """Expected success in thousandths by fit, with no history as even."""
        return np.where(self.success < 0, round(1000 * NO_HISTORY), self.success)

    def pairs(self, chosen: Numbers, like: Numbers | None = None) -> list[Pair]:
        """Name a part for each patient, given the sort of part it gets (-1: none).

        Where ``like`` gives a patient the same sort, the same part is named, so that no change is shown where
        there is none.
        """
        named = self._named(chosen if like is None else like, {})
        if like is not None:
            same = np.flatnonzero((chosen == like) & (chosen >= 0)).tolist()
            named = self._named(chosen, {i: named[i] for i in same})
        return self._pairs(chosen, sorted(named.items()))

    def _named(self, chosen: Numbers, settled: dict[int, int]) -> dict[int, int]:
        """A part of its sort for each patient, in turn; what is settled stays."""
        named, taken = dict(settled), set(settled.values())
        left: dict[int, Iterator[int]] = {}
        for i, sort in enumerate(chosen.tolist()):
            if sort >= 0 and i not in named:
                if sort not in left:
                    left[sort] = (part for part in self.members[sort] if part not in taken)
                named[i] = next(left[sort])
        return named

    def _pairs(self, chosen: Numbers, named: Sequence[tuple[int, int]]) -> list[Pair]:
        """What is said of each patient and the part named for it."""
        which = np.array([i for i, _ in named], dtype=np.int64)
        fits = self.fits[self.rows[which], chosen[which]]
        said = zip(
            named, self.grade[fits].tolist(), self.score[fits].tolist(), self.success[fits].tolist(), strict=True
        )
        patients, parts = self.patients, self.parts
        return [
            Pair(patients[i].key, parts[j].key, GRADES[grade], score, None if success < 0 else success / 1000)
            for (i, j), grade, score, success in said
        ]


def judge_all(
    kind: PartKind, patients: Sequence[Waiting], parts: Sequence[FreePart], rules_for: RulesFor, chance: Chance
) -> Question:
    """Judge every sort of patient against every sort of part: equal traits are one sort, and judged once."""
    rules = [tuple(rules_for(kind, one.traits)) for one in patients]
    compared = compared_traits({rule for each in rules for rule in each})
    keys = ((each, one.traits.family, compared(one.traits)) for each, one in zip(rules, patients, strict=True))
    rows, sorts = _sorts(keys)
    columns, part_sorts = _sorts(compared(part.traits) for part in parts)
    families, family = _places(patients[i].traits.family for i in sorts)
    fits = np.zeros((len(sorts), len(part_sorts)), dtype=np.int64)
    judged = _judge_sorts([(rules[i], patients[i].traits) for i in sorts], [parts[j].traits for j in part_sorts])
    for row, column, grade, score in judged:
        fits[row, column] = 1 + (np.array(family)[row] * len(GRADES) + grade) * SCORES + score
    members: list[list[int]] = [[] for _ in part_sorts]
    for part, its_sort in enumerate(columns.tolist()):
        members[its_sort].append(part)
    serve = np.flatnonzero(fits.any(axis=0))
    kept = [members[its_sort] for its_sort in serve.tolist()]
    return Question(patients, parts, rows, kept, fits.take(serve, axis=1), *_fits(families, kind, chance))


def _sorts(keys: Iterable[Hashable]) -> tuple[Numbers, list[int]]:
    """For each key the number of its sort, and for each sort where it was first met."""
    places, index = _places(keys)
    first = dict(zip(reversed(index), range(len(index) - 1, -1, -1), strict=True))
    return np.array(index, dtype=np.int64), [first[sort] for sort in range(len(places))]


def _places(keys: Iterable[Hashable]) -> tuple[list[Any], list[int]]:
    """The different keys in the order they were met, and for each key its place among them."""
    places: dict[Hashable, int] = {}
    index = [places.setdefault(key, len(places)) for key in keys]
    return list(places), index


def _judge_sorts(
    patients: Sequence[tuple[tuple[Rule, ...], Traits]], parts: Sequence[Traits]
) -> Iterator[tuple[Numbers, Numbers, Numbers, Numbers]]:
    """Row, column, grade and score of the pairs that may be suggested, though families may have rules of their own."""
    by_rules: dict[tuple[Rule, ...], list[int]] = defaultdict(list)
    for place, (rules, _) in enumerate(patients):
        by_rules[rules].append(place)
    for rules, places in by_rules.items():
        table = judge_table([patients[place][1] for place in places], parts, rules)
        keep = np.isin(table.grade, [GRADES.index(grade) for grade in SERVES])
        row, column = np.divmod(table.at[keep], max(len(parts), 1))
        yield np.array(places)[row], column, table.grade[keep].astype(np.int64), table.score[keep].astype(np.int64)


def _fits(families: Sequence[str | None], kind: PartKind, chance: Chance) -> tuple[Numbers, Numbers, Numbers]:
    """Grade, score and expected success in thousandths (-1 with no history) of each fit; number 0 is no fit."""
    success = np.full((len(families), len(GRADES), SCORES), -1, dtype=np.int64)
    for place, family in enumerate(families):
        for band in BANDS:
            share = chance(family, kind, band)
            success[place, :, band.low : band.high + 1] = -1 if share is None else round(1000 * share)
    _, grade, score = np.indices(success.shape)
    return np.append(GRADES.index(Grade.NO), grade), np.append(0, score), np.append(-1, success)
