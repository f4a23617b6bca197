"""The assignment problem: published worked examples, and every possible way tried on small ones.

Sources, each seen:
- the examples in the Python package munkres (B. M. Clapper), also in scipy's own tests, one with forbidden pairs;
- scipy's documentation of linear_sum_assignment (total 5);
- OR-Tools' assignment guides: five workers, four tasks (optimum 265, one worker without a task) and four by four (265);
- Project Euler, problem 345: the greatest sum of a five by five matrix, one number of each row and column, is 3315.
"""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.stock.allocation import match

EULER = [
    [7, 53, 183, 439, 863],
    [497, 383, 563, 79, 973],
    [287, 63, 343, 169, 583],
    [627, 343, 773, 959, 943],
    [767, 473, 103, 699, 303],
]


def cost_of(cost, chosen) -> float:
    return sum(cost[row][column] for row, column in enumerate(chosen) if column is not None)


@pytest.mark.parametrize(
    ("cost", "total"),
    [
        ([[400, 150, 400], [400, 450, 600], [300, 225, 300]], 850),
        ([[400, 150, 400, 1], [400, 450, 600, 2], [300, 225, 300, 3]], 452),
        ([[10, 10, 8], [9, 8, 1], [9, 7, 4]], 18),
        ([[10, 10, 8, 11], [9, 8, 1, 1], [9, 7, 4, 10]], 15),
        ([[4, 1, 3], [2, 0, 5], [3, 2, 2]], 5),
        ([[90, 76, 75, 70], [35, 85, 55, 65], [125, 95, 90, 105], [45, 110, 95, 115]], 265),
        ([[90, 80, 75, 70], [35, 85, 55, 65], [125, 95, 90, 95], [45, 110, 95, 115], [50, 100, 90, 100]], 265),
    ],
)
def test_the_published_total_is_found(cost, total):
    chosen = match(cost)
    used = [column for column in chosen if column is not None]
    assert cost_of(cost, chosen) == total
    assert len(set(used)) == len(used) == min(len(cost), len(cost[0]))


def test_forbidden_pairs_of_the_published_example_are_kept_out():
    no = 10**6
    cost = [[4, 5, 6, no], [1, 9, 12, 11], [no, 5, 4, no], [12, 12, 12, 10]]
    chosen = match(cost, allowed=np.array(cost) < no)
    assert cost_of(cost, chosen) == 20


def test_the_greatest_sum_is_the_least_of_what_is_lost():
    chosen = match([[1000 - value for value in row] for row in EULER])
    assert sorted(EULER[row][column] for row, column in enumerate(chosen)) == sorted([863, 383, 343, 959, 767])


def best_by_trying_all(cost, allowed) -> tuple[int, int]:
    """(pairs left out, total cost) of the best of all ways, rows beyond the columns included."""
    rows, columns = len(cost), len(cost[0])
    ways = permutations([*range(columns), *[None] * rows], rows)
    totals = []
    for way in ways:
        pairs = [(row, column) for row, column in enumerate(way) if column is not None]
        if all(allowed[row][column] for row, column in pairs):
            totals.append((rows - len(pairs), sum(cost[row][column] for row, column in pairs)))
    return min(totals)


@st.composite
def problems(draw):
    rows, columns = draw(st.integers(1, 3)), draw(st.integers(1, 4))
    cost = [[draw(st.integers(-9, 9)) for _ in range(columns)] for _ in range(rows)]
    return cost, [[draw(st.booleans()) for _ in range(columns)] for _ in range(rows)]


@given(problems())
def test_small_ones_agree_with_trying_every_way(problem):
    cost, allowed = problem
    chosen = match(cost, allowed)
    assert all(allowed[row][column] for row, column in enumerate(chosen) if column is not None)
    assert (chosen.count(None), cost_of(cost, chosen)) == best_by_trying_all(cost, allowed)
