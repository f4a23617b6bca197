from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.figures.survival import kaplan_meier

OBSERVED = st.lists(st.tuples(st.integers(0, 60), st.booleans()), min_size=1, max_size=40)


@given(st.lists(st.integers(0, 60), min_size=1, max_size=40), st.integers(0, 60))
def test_when_everything_has_ended_the_curve_is_the_plain_share_still_open(durations: list[int], t: int) -> None:
    curve = kaplan_meier(durations, [True] * len(durations))
    assert curve.at(t) == pytest.approx(sum(d > t for d in durations) / len(durations))


@given(OBSERVED)
def test_the_share_falls_and_stays_within_its_interval(observed: list[tuple[int, bool]]) -> None:
    curve = kaplan_meier(*zip(*observed, strict=True))
    shares = [curve.at(t) for t in range(62)]
    assert shares == sorted(shares, reverse=True)
    for t, share in enumerate(shares):
        low, high = curve.interval(t)
        assert 0 <= low <= share <= high <= 1


@given(OBSERVED, st.integers(1, 100))
def test_a_quantile_is_the_first_time_the_share_is_low_enough(observed: list[tuple[int, bool]], percent: int) -> None:
    curve = kaplan_meier(*zip(*observed, strict=True))
    t = curve.quantile(percent / 100)
    if t is None:
        assert curve.at(1000) > percent / 100 - 1e-12
    else:
        assert curve.at(t - 0.5) > percent / 100 - 1e-12
        assert curve.at(t) <= percent / 100 + 1e-12


def test_a_share_of_exactly_a_half_is_a_half() -> None:
    assert kaplan_meier([10, 20, 30, 40, 50, 60], [True] * 6).quantile(0.5) == 30
    assert kaplan_meier([1, 2, 3, 4, 5, 6, 7, 8, 9, 10], [True] * 10).quantile(0.3) == 7


def test_what_is_open_lowers_nothing_but_was_at_risk() -> None:
    curve = kaplan_meier([5, 5, 9], [False, True, False])
    assert curve.at(5) == pytest.approx(2 / 3)
    assert curve.quantile(0.5) is None


def test_while_nothing_has_ended_everything_is_open() -> None:
    curve = kaplan_meier([3, 4], [False, False])
    assert (curve.at(9), curve.interval(9), curve.quantile(0.5), curve.standard_error(9)) == (
        1.0,
        (1.0, 1.0),
        None,
        0.0,
    )


@pytest.mark.parametrize(("durations", "ended"), [([], []), ([1], []), ([1], [True, False]), ([-1], [True])])
def test_what_makes_no_curve_is_refused(durations: list[float], ended: list[bool]) -> None:
    with pytest.raises(ValueError, match="make no curve"):
        kaplan_meier(durations, ended)
