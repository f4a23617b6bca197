"""Expected success against Beta posteriors worked out elsewhere (source and method stand in the vectors)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from labcases.stock.expected import expected_success

VECTORS = json.loads((Path(__file__).parent / "vectors" / "beta_posterior.json").read_text("utf-8"))


@pytest.mark.parametrize("case", VECTORS["cases"], ids=lambda case: f"{case['successes']} of {case['n']}")
def test_mean_and_quantiles_agree_with_the_conjugate_posterior(case):
    worked, prior = case["successes"], (case["prior_alpha"], case["prior_beta"])
    expected = expected_success(worked=worked, failed=case["n"] - worked, prior=prior, inside=0.9)
    assert expected.mean == pytest.approx(case["posterior_mean"], abs=1e-9)
    assert expected.mean == pytest.approx(case["p_next_success"], abs=1e-9)
    assert expected.quantile(0.5) == pytest.approx(case["q50"], abs=1e-8)
    assert (expected.low, expected.high) == pytest.approx((case["q05"], case["q95"]), abs=1e-8)


def test_all_vectors_are_there():
    assert len(VECTORS["cases"]) == 5
