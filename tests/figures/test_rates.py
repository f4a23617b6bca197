from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.figures.rates import wilson

COUNTS = st.integers(1, 10**6).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@given(COUNTS, st.floats(0.5, 0.999))
def test_an_interval_holds_its_share_and_never_leaves_zero_to_one(counts: tuple[int, int], confidence: float) -> None:
    k, n = counts
    bounds = wilson(k, n, confidence)
    assert bounds is not None
    assert 0 <= bounds[0] <= k / n <= bounds[1] <= 1


@given(COUNTS)
def test_successes_and_failures_are_mirror_images(counts: tuple[int, int]) -> None:
    k, n = counts
    hits, misses = wilson(k, n), wilson(n - k, n)
    assert hits is not None
    assert misses is not None
    assert hits == pytest.approx((1 - misses[1], 1 - misses[0]))


def test_more_of_the_same_makes_surer() -> None:
    few, many = wilson(3, 4), wilson(300, 400)
    assert few is not None
    assert many is not None
    assert few[0] < many[0] < 0.75 < many[1] < few[1]


def test_without_data_there_is_no_interval() -> None:
    assert wilson(0, 0) is None


@pytest.mark.parametrize(
    ("k", "n", "confidence"), [(2, 1, 0.95), (-1, 1, 0.95), (0, -1, 0.95), (1, 2, 1.0), (1, 2, 0.0)]
)
def test_what_is_no_share_or_no_confidence_is_refused(k: int, n: int, confidence: float) -> None:
    with pytest.raises(ValueError, match=r"no share|A confidence"):
        wilson(k, n, confidence)
