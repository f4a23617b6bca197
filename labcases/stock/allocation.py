"""Who gets which: all waiting patients and all free parts looked at together.

First come, first served can spend the one part that fits a later patient on an earlier one that had a choice.
The suggestion is a minimum-cost matching of patients with parts, solved for each kind of part by scipy's
``linear_sum_assignment``. It wants three things, each only as far as the one before it leaves room:

1. as many patients served as can be,
2. the greatest sum of expected success (in thousandths; no history counts as even),
3. the best verdicts and scores,
4. as little change from first come, first served as can be.

All four stand in one whole-number cost: with *n* pairs at most, each of them costs more for one step than all
that come after it can together. The numbers are exact for up to 2,000 patients that wait for one kind of part.

>>> from labcases.media.traits import Traits
>>> from labcases.stock.rules import Rule
>>> board = PartKind.CONTROLLER_BOARD
>>> rules = (Rule("board_number"), Rule("main_chip"))
>>> waiting = [Waiting("first", board, Traits(board_number="B7")),
...            Waiting("second", board, Traits(board_number="B7", main_chip="Q2"))]
>>> free = [FreePart("D-2", board, Traits(board_number="B7", main_chip="Q2")),
...         FreePart("D-1", board, Traits(board_number="B7", main_chip="Q1"))]
>>> plan = suggest(waiting, free, lambda kind, traits: rules)
>>> plan.headline
'2 of 2 waiting patients can be served; first come, first served would serve 1.'
>>> plan.changes
('first gets D-1 instead of D-2.', 'second gets D-2; first come, first served would leave it without.')
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from labcases.stock.matching import GRADES
from labcases.stock.question import (
    Chance,
    FreePart,
    Numbers,
    Pair,
    Question,
    RulesFor,
    Waiting,
    judge_all,
    no_history,
)
from labcases.stock.rules import PartKind

__all__ = ["FreePart", "Pair", "Suggestion", "Waiting", "match", "missed", "no_history", "suggest"]

Matrix = NDArray[np.float64]

TIES = len(GRADES) * 101  # verdict and score together are worth less than this
LAST = np.iinfo(np.int32).max  # above every wish: not to be had, or given away


@dataclass(frozen=True, slots=True)
class Suggestion:
    """Who gets which, beside what first come, first served would give; patients in the order they came."""

    waiting: tuple[Hashable, ...]
    pairs: tuple[Pair, ...]
    first_come: tuple[Pair, ...]

    @property
    def unserved(self) -> tuple[Hashable, ...]:
        """Patients for whom nothing is free: what to buy for."""
        served = {pair.patient for pair in self.pairs}
        return tuple(key for key in self.waiting if key not in served)

    @property
    def headline(self) -> str:
        """Both ways in one sentence."""
        return (
            f"{len(self.pairs)} of {len(self.waiting)} waiting patients can be served; "
            f"first come, first served would serve {len(self.first_come)}."
        )

    @property
    def changes(self) -> tuple[str, ...]:
        """A sentence for each patient that gets something else than by first come, first served."""
        now = {pair.patient: pair.part for pair in self.pairs}
        before = {pair.patient: pair.part for pair in self.first_come}
        return tuple(
            _change(key, before.get(key), now.get(key)) for key in self.waiting if before.get(key) != now.get(key)
        )


def _change(patient: Hashable, before: Hashable | None, now: Hashable | None) -> str:
    if before is None:
        return f"{patient} gets {now}; first come, first served would leave it without."
    if now is None:
        return f"{patient} waits: {before}, which it would get by first come, first served, does more for another."
    return f"{patient} gets {now} instead of {before}."


def suggest(
    waiting: Sequence[Waiting],
    free: Sequence[FreePart],
    rules_for: RulesFor,
    chance: Chance = no_history,
) -> Suggestion:
    """The matching that serves most, with the best expected success.

    ``waiting`` is in the order in which the patients came, each key and each part's key once.
    ``rules_for(kind, patient's traits)`` gives the rules that hold for a patient (of its family, if it has its
    own); ``chance(family, kind, score band)`` gives the expected success there, None with no history.
    Raises ValueError where a key stands in a list twice.
    """
    _each_once("patient", waiting)
    _each_once("part", free)
    parts: dict[PartKind, list[FreePart]] = defaultdict(list)
    for part in free:
        parts[part.kind].append(part)
    pairs: list[Pair] = []
    first_come: list[Pair] = []
    for kind, patients in _by_kind(waiting).items():
        question = judge_all(kind, patients, parts[kind], rules_for, chance)
        in_turn = serve_in_turn(question)
        at_once = serve_most(question, in_turn)
        first_come += question.pairs(in_turn)
        pairs += question.pairs(at_once, like=in_turn)
    place = {one.key: n for n, one in enumerate(waiting)}
    ordered = (tuple(sorted(found, key=lambda pair: place[pair.patient])) for found in (pairs, first_come))
    return Suggestion(tuple(place), *ordered)


def _each_once(what: str, listed: Sequence[Waiting] | Sequence[FreePart]) -> None:
    seen: set[Hashable] = set()
    for one in listed:
        if one.key in seen:
            raise ValueError(f"The {what} {one.key} is listed twice.")
        seen.add(one.key)


def _by_kind(waiting: Iterable[Waiting]) -> dict[PartKind, list[Waiting]]:
    kinds: dict[PartKind, list[Waiting]] = defaultdict(list)
    for one in waiting:
        kinds[one.kind].append(one)
    return kinds


def serve_in_turn(question: Question) -> Numbers:
    """First come, first served: each patient takes the best left, by verdict, success and score.

    Gives each patient the sort of part it gets, -1 where nothing is left.
    """
    wish_of_fit = ((question.grade + 1) * 1001 - question.even) * 101 - question.score
    wish_of_fit[0] = LAST
    wish = wish_of_fit.astype(np.int32).take(question.fits)
    left = [len(parts) for parts in question.members]
    best: dict[int, int] = {}  # of each sort of patient: it stays the best until the last of it is given
    chosen: list[int] = []
    for row in question.rows.tolist():
        sort = best.get(row)
        if sort is None or (sort >= 0 and not left[sort]):
            sort = best[row] = _first_wish(wish[row])
        chosen.append(sort)
        if sort >= 0:
            left[sort] -= 1
            if not left[sort]:
                wish[:, sort] = LAST
    return np.array(chosen, dtype=np.int64)


def _first_wish(wishes: NDArray[np.int32]) -> int:
    """The place of the lowest, -1 where there is none to wish for."""
    place = int(wishes.argmin()) if len(wishes) else -1
    return place if place >= 0 and wishes[place] < LAST else -1


def serve_most(question: Question, in_turn: Numbers) -> Numbers:
    """The matching that serves most: for each patient the sort of part it gets, -1 for none."""
    patients = len(question.rows)
    copies = np.array([min(len(parts), patients) for parts in question.members], dtype=np.int64)
    columns = np.repeat(np.arange(len(copies)), copies)  # no sort has more columns than there are patients
    n = min(patients, len(columns))
    if not n:
        return np.full(patients, -1, dtype=np.int64)
    step = TIES * n + 1
    leave_out = (n + 1) * ((1000 * step + TIES) * n + 1)
    ties = question.grade * 101 + 100 - question.score
    cost_of_fit = (((1000 - question.even) * step + ties) * (n + 1) + 1).astype(np.float64)
    cost_of_fit[0] = leave_out
    cost = _for_each(cost_of_fit.take(question.fits), question.rows, columns)
    patient, column = _columns_of(in_turn, copies)
    cost[patient, column] -= 1  # least change: one less for what it has in turn
    chosen = _solve(cost, leave_out)
    return np.where(chosen >= 0, columns[chosen], -1)


def _for_each(cost: Matrix, rows: Numbers, columns: Numbers) -> Matrix:
    """The costs of sorts as those of each patient and each part; nothing is copied where each is a sort of its own."""
    if len(columns) > cost.shape[1]:
        cost = cost.take(columns, axis=1)
    return cost.take(rows, axis=0) if len(rows) > len(cost) else cost


def _columns_of(chosen: Numbers, copies: Numbers) -> tuple[Numbers, Numbers]:
    """Patient and column of each part that is of the sort chosen for the patient.

    >>> [numbers.tolist() for numbers in _columns_of(np.array([1, -1, 0]), np.array([2, 3]))]
    [[0, 0, 0, 2, 2], [2, 3, 4, 0, 1]]
    """
    patients = np.flatnonzero(chosen >= 0)
    count, end = copies[chosen[patients]], np.cumsum(copies)[chosen[patients]]
    before_end = np.repeat(np.cumsum(count), count) - np.arange(count.sum())
    return np.repeat(patients, count), np.repeat(end, count) - before_end


def match(cost: Sequence[Sequence[float]] | Matrix, allowed: Any = None) -> list[int | None]:
    """The column for each row so that most rows have one, at the lowest total cost; None for no column.

    ``allowed`` says, in the same shape, which pairs may be made; all may unless said.

    >>> match([[4, 1, 3], [2, 0, 5], [3, 2, 2]])
    [1, 0, 2]
    >>> match([[1, 2], [1, 9]], allowed=[[True, True], [True, False]])
    [1, 0]
    """
    matrix: Matrix = np.asarray(cost, dtype=np.float64)
    may = np.full(matrix.shape, True) if allowed is None else np.asarray(allowed, dtype=bool)
    if not may.any():
        return [None] * len(matrix)
    above = matrix - matrix.min(where=may, initial=np.inf)
    leave_out = float(above.max(where=may, initial=0)) * min(matrix.shape) + 1
    chosen: list[int] = _solve(np.where(may, above, leave_out), leave_out).tolist()
    return [column if column >= 0 else None for column in chosen]


def _solve(cost: Matrix, leave_out: float) -> Numbers:
    """The column of each row at the lowest total cost; -1 where it has none, or one as dear as being left out."""
    rows, columns = linear_sum_assignment(cost)
    chosen = np.full(len(cost), -1, dtype=np.int64)
    real = cost[rows, columns] < leave_out
    chosen[rows[real]] = columns[real]
    return chosen


def missed(fitting: Mapping[Hashable, Iterable[Hashable]]) -> dict[Hashable, float]:
    """How much each part would be missed, given which parts fit each *other* waiting patient.

    The whole number counts the patients for whom it is the only fit; the fraction, always below one, grows with
    the patients that have few others.

    >>> missed({"A": ["D-1"], "B": ["D-1", "D-2"], "C": ["D-2", "D-3"]})
    {'D-1': 1.3333333333333333, 'D-2': 0.5, 'D-3': 0.3333333333333333}
    """
    only: dict[Hashable, int] = defaultdict(int)
    shared: dict[Hashable, float] = defaultdict(float)
    for parts in fitting.values():
        fits = list(dict.fromkeys(parts))
        for part in fits:
            only[part] += len(fits) == 1
            shared[part] += 1 / len(fits) if len(fits) > 1 else 0
    return {part: only[part] + shared[part] / (1 + shared[part]) for part in only}
