"""Many patients against many parts at once: the verdicts of matching, as numbers in arrays.

Values repeat far more than pairs do, so each rule compares every pair of *values* that occurs only once, and the
result is spread over the pairs by index. Musts go first; a pair that one of them excludes is not looked at again.

>>> from labcases.stock.rules import Rule
>>> table = judge_table([Traits(board_number="B7")], [Traits(), Traits(board_number="B8")], (Rule("board_number"),))
>>> [[str(GRADES[grade]) for grade in row] for row in table.grades], table.scores.tolist()
([['check by eye', 'no']], [[50, 0]])
>>> table.at.tolist()  # only the first pair is not excluded
[0]
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labcases.media.traits import Traits
from labcases.stock.comparing import Mark
from labcases.stock.matching import GRADES, MOST, POINTS, Grade, Step, steps
from labcases.stock.rules import Level, Rule

Ints = NDArray[np.int64]
MARKS = tuple(Mark)
_POINTS = np.array([POINTS[mark] for mark in MARKS], dtype=float)
_CODE = {mark: code for code, mark in enumerate(MARKS)}
_NO, _UNLIKELY, _CHECK, _FITS = (GRADES.index(g) for g in (Grade.NO, Grade.UNLIKELY, Grade.CHECK, Grade.FITS))


@dataclass(frozen=True, slots=True)
class Table:
    """The pairs that are not excluded, patient by patient.

    ``at`` is the pair's number, patient × number of parts + part, rising; ``grade`` its place in GRADES, ``score``
    0 to 100. Most pairs of a lab are excluded, so nothing is kept of those.
    """

    shape: tuple[int, int]
    at: Ints
    grade: NDArray[np.int8]
    score: NDArray[np.int16]

    @property
    def grades(self) -> NDArray[np.int8]:
        """Every grade by [patient, part]."""
        return self._spread(self.grade, np.full(self.shape, _NO, dtype=np.int8))

    @property
    def scores(self) -> NDArray[np.int16]:
        """Every score by [patient, part]; 0 where excluded."""
        return self._spread(self.score, np.zeros(self.shape, dtype=np.int16))

    def _spread(self, values: NDArray[Any], whole: NDArray[Any]) -> NDArray[Any]:
        whole.flat[self.at] = values
        return whole


def judge_table(patients: Sequence[Traits], parts: Sequence[Traits], rules: Iterable[Rule]) -> Table:
    """The verdict on every part for every patient, as :func:`labcases.stock.matching.judge` would give it."""
    pairs = _Pairs(len(patients), len(parts))
    for step in sorted(steps(tuple(rules)), key=lambda step: step.rule.level is not Level.MUST):
        pairs.apply(step, patients, parts)
    return pairs.table()


class _Pairs:
    """The pairs that nothing has excluded yet, and what they have reached."""

    def __init__(self, patients: int, parts: int) -> None:
        self.shape = (patients, parts)
        self.at = np.arange(patients * parts)
        self.reached = np.zeros(patients * parts)
        self.possible = np.zeros(patients * parts)
        self.doubtful = np.zeros(patients * parts, dtype=bool)

    def apply(self, step: Step, patients: Sequence[Traits], parts: Sequence[Traits]) -> None:
        mine, row = _distinct([(step.take(t), step.does_not_apply_to(t)) for t in patients])
        theirs, column = _distinct([step.take(t) for t in parts])
        i, j = np.divmod(self.at, max(self.shape[1], 1))
        marks = _marks(step, mine, theirs, row[i] * len(theirs) + column[j])
        weight = float(step.rule.weight)
        self.reached += weight * _POINTS[marks]
        self.possible += weight * MOST * (marks != _CODE[Mark.NOT_APPLICABLE])
        if step.rule.level is Level.MUST:
            self.doubtful |= (marks == _CODE[Mark.UNKNOWN]) | (marks == _CODE[Mark.NEAR])
            self._keep(marks != _CODE[Mark.DIFFERENT])

    def _keep(self, kept: NDArray[np.bool_]) -> None:
        if not kept.all():
            self.at, self.reached, self.possible = self.at[kept], self.reached[kept], self.possible[kept]
            self.doubtful = self.doubtful[kept]

    def table(self) -> Table:
        applied = self.possible > 0
        share = np.divide(100 * self.reached, self.possible, out=np.full(len(self.at), 50.0), where=applied)
        score = (share + 0.5).astype(np.int16)
        grade = np.where(score < 50, _UNLIKELY, np.where(self.doubtful | ~applied, _CHECK, _FITS))
        return Table(self.shape, self.at, grade.astype(np.int8), score)


def _marks(step: Step, mine: Sequence[Any], theirs: Sequence[Any], which: Ints) -> Ints:
    """The mark of each pair, given which (patient's value, part's value) it has; each that occurs is compared once."""
    occurs = np.zeros(len(mine) * len(theirs), dtype=bool)
    occurs[which] = True
    codes = np.zeros(len(occurs), dtype=np.int64)
    for pair in np.flatnonzero(occurs).tolist():
        (value, waived), other = mine[pair // len(theirs)], theirs[pair % len(theirs)]
        codes[pair] = _CODE[step.mark(value, other, waived=waived)]
    return codes[which]


def _distinct(values: Iterable[Hashable]) -> tuple[list[Any], Ints]:
    """The distinct values in order of appearance, and for each value given its place among them."""
    places: dict[Hashable, int] = {}
    index = [places.setdefault(value, len(places)) for value in values]
    return list(places), np.array(index, dtype=np.int64)
