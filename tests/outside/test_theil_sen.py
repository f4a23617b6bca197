"""The Theil-Sen rate against scipy's ``theilslopes`` and against vectors.

Vectors: topic eta_theil_sen; the file says its source and how it was made.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import stats

from labcases.bench.forecast import seconds_left, theil_sen

VECTORS = Path(__file__).parent / "vectors" / "eta_theil_sen.json"
CASES = json.loads(VECTORS.read_text(encoding="utf-8"))["cases"]


def test_there_are_vectors() -> None:
    assert len(CASES) >= 6


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{len(case['t_seconds'])} readings")
def test_rates_and_times_left_agree_with_the_vectors(case: dict[str, Any]) -> None:
    slope = theil_sen(case["t_seconds"], case["sectors_done"])
    assert slope.likely == pytest.approx(case["theil_sen_slope"], rel=1e-9)
    left = seconds_left(case["total_sectors"] - case["sectors_done"][-1], slope.likely)
    told = case["eta_seconds_from_last_point_theil_sen"]  # None where there is no progress
    assert left is None if told is None else left == pytest.approx(told, rel=1e-6)
    if "theil_sen_intercept_median" in case:
        assert slope.intercept == pytest.approx(case["theil_sen_intercept_median"], rel=1e-9)


@pytest.mark.parametrize("seed", range(60))
def test_random_readings_with_ties_agree_with_scipy(seed: int) -> None:
    chance = np.random.default_rng(seed)
    count = int(chance.integers(3, 60))
    x = np.sort(chance.integers(0, 4 * count, count)).astype(float)  # some at the same time
    x[-1] += 1
    y = np.cumsum(chance.integers(0, 4, count)).astype(float)  # some without progress
    ours, theirs = theil_sen(x, y), stats.theilslopes(y, x, 0.95)
    assert ours == pytest.approx((theirs.slope, theirs.low_slope, theirs.high_slope, theirs.intercept), abs=1e-9)
