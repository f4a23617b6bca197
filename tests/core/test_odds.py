from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.core.odds import beta_posterior

COUNTS = st.integers(0, 500).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


def test_without_outcomes_only_the_prior_speaks() -> None:
    assert beta_posterior(0, 0).mean == 0.5
    assert beta_posterior(0, 0).interval(0.9) == pytest.approx((0.05, 0.95))


@given(COUNTS)
def test_the_expected_rate_lies_within_its_interval(counts: tuple[int, int]) -> None:
    posterior = beta_posterior(*counts)
    low, high = posterior.interval()
    assert 0 <= low < posterior.mean < high <= 1


@given(COUNTS, st.integers(0, 40))
def test_some_number_of_the_next_ones_succeeds(counts: tuple[int, int], trials: int) -> None:
    chances = beta_posterior(*counts).next_successes(trials)
    assert sum(chances) == pytest.approx(1)
    assert sum(k * chance for k, chance in enumerate(chances)) == pytest.approx(trials * beta_posterior(*counts).mean)


@pytest.mark.parametrize("given_", [(3, 2, 1, 1), (-1, 2, 1, 1), (1, 2, 0, 1), (1, 2, 1, -1)])
def test_counts_or_a_prior_that_cannot_be_are_refused(given_: tuple[int, int, float, float]) -> None:
    with pytest.raises(ValueError, match="There are no"):
        beta_posterior(*given_)
