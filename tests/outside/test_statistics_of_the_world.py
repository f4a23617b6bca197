"""Curves, intervals and odds against independent statistics packages and published data.

Sources: the remission times of Freireich et al. 1963, as survival textbooks print them, and further sets in
vectors/kaplan_meier.json, computed with lifelines 0.30.3 and statsmodels; Wilson intervals by statsmodels and scipy,
four of them as Newcombe 1998 prints them (from memory), in vectors/wilson_interval.json; scipy's beta and
beta-binomial distributions in vectors/beta_posterior.json and, for any counts, called here.
"""

from __future__ import annotations

import json
from pathlib import Path
from statistics import NormalDist
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from labcases.figures.rates import beta_posterior, wilson
from labcases.figures.survival import kaplan_meier


def cases(topic: str) -> list[dict[str, Any]]:
    path = Path(__file__).parent / "vectors" / f"{topic}.json"
    return list(json.loads(path.read_text(encoding="utf-8"))["cases"])


SURVIVAL = [pytest.param(case, id=case["name"]) for case in cases("kaplan_meier")]
WITH_INTERVAL = [param for param in SURVIVAL if "ci95_loglog_at_mid_event" in param.values[0]]
COUNTS = st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@pytest.mark.parametrize("case", SURVIVAL)
def test_every_step_of_the_published_curves(case: dict[str, Any]) -> None:
    curve = kaplan_meier(case["durations"], case["events"])
    rows = [(row["t"], row["at_risk"], row["events"]) for row in case["table"]]
    assert [(step.t, step.at_risk, step.ended) for step in curve.steps] == rows
    for row in case["table"]:
        assert curve.at(row["t"]) == pytest.approx(row["S"], abs=1e-9)
        assert curve.standard_error(row["t"]) == (row["greenwood_se"] and pytest.approx(row["greenwood_se"], abs=1e-9))


@pytest.mark.parametrize("case", SURVIVAL)
def test_the_quantiles_of_the_published_curves(case: dict[str, Any]) -> None:
    curve = kaplan_meier(case["durations"], case["events"])
    assert {q: curve.quantile(float(q)) for q in case["smallest_t_with_S_le_p"]} == case["smallest_t_with_S_le_p"]
    assert curve.quantile(0.5) == case["median"]


@pytest.mark.parametrize("case", WITH_INTERVAL)
def test_the_intervals_of_the_published_curves(case: dict[str, Any]) -> None:
    curve, known = kaplan_meier(case["durations"], case["events"]), case["ci95_loglog_at_mid_event"]
    assert curve.interval(known["t"]) == pytest.approx((known["lower"], known["upper"]), abs=1e-8)
    plain, share, error = case["ci95_plain_greenwood_at_same"], curve.at(known["t"]), curve.standard_error(known["t"])
    assert error is not None
    reach = NormalDist().inv_cdf(0.975) * error
    bounds = max(0.0, share - reach), min(1.0, share + reach)
    assert bounds == pytest.approx((plain["lower"], plain["upper"]), abs=1e-8)


@pytest.mark.parametrize("case", cases("wilson_interval"), ids=lambda case: f"{case['successes']} of {case['n']}")
def test_the_published_intervals_of_shares(case: dict[str, Any]) -> None:
    bounds = wilson(case["successes"], case["n"], case["conf"])
    if "expect" in case:
        assert bounds is None
    else:
        assert bounds == pytest.approx((case["lower"], case["upper"]), abs=1e-9)


@given(COUNTS, st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_any_interval_of_a_share_is_that_of_scipy(counts: tuple[int, int], confidence: float) -> None:
    theirs = stats.binomtest(*counts).proportion_ci(confidence, method="wilson")
    assert wilson(*counts, confidence) == pytest.approx((theirs.low, theirs.high), abs=1e-9)


@pytest.mark.parametrize("case", cases("beta_posterior"), ids=lambda case: f"{case['successes']} of {case['n']}")
def test_the_published_posteriors(case: dict[str, Any]) -> None:
    posterior = beta_posterior(case["successes"], case["n"], case["prior_alpha"], case["prior_beta"])
    assert posterior.mean == pytest.approx(case["posterior_mean"], abs=1e-9)
    assert posterior.mean == pytest.approx(case["p_next_success"], abs=1e-9)
    assert [posterior.quantile(q) for q in (0.05, 0.5, 0.95)] == pytest.approx(
        [case["q05"], case["q50"], case["q95"]], abs=1e-8
    )
    assert posterior.next_successes(10) == pytest.approx(case["betabinom_pmf_next_10"], abs=1e-8)
