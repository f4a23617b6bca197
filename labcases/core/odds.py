"""How likely something is, after it went well k times of n: a Beta posterior over a binomial count.

Before any outcome there is a prior, Beta(alpha, beta), as if alpha - 1 successes and beta - 1 failures had been
seen; Beta(1, 1) holds every rate equally likely. Each success adds one to alpha, each failure one to beta.

>>> posterior = beta_posterior(7, 10)
>>> round(posterior.mean, 3), [round(bound, 3) for bound in posterior.interval(0.90)]
(0.667, [0.436, 0.865])
>>> [round(chance, 3) for chance in posterior.next_successes(2)]
[0.128, 0.41, 0.462]
"""

from __future__ import annotations

from dataclasses import dataclass
from math import comb, exp, lgamma, log

from scipy.special import betaincinv


@dataclass(frozen=True)
class Posterior:
    """What is held of a rate: Beta(alpha, beta)."""

    alpha: float
    beta: float

    @property
    def mean(self) -> float:
        """The expected rate, which is also the chance that the next one succeeds."""
        return self.alpha / (self.alpha + self.beta)

    def quantile(self, q: float) -> float:
        """The rate that the true one is below with probability ``q``."""
        return float(betaincinv(self.alpha, self.beta, q))

    def interval(self, confidence: float = 0.95) -> tuple[float, float]:
        """Bounds with equal probability outside on either side."""
        outside = (1 - confidence) / 2
        return self.quantile(outside), self.quantile(1 - outside)

    def next_successes(self, trials: int) -> list[float]:
        """The probabilities of 0, 1, … successes in the next ``trials``: the beta-binomial distribution."""
        whole = _log_beta(self.alpha, self.beta)
        return [
            exp(log(comb(trials, k)) + _log_beta(self.alpha + k, self.beta + trials - k) - whole)
            for k in range(trials + 1)
        ]


def beta_posterior(successes: int, n: int, alpha: float = 1, beta: float = 1) -> Posterior:
    """The posterior after ``successes`` of ``n``. Raises ValueError for counts or a prior that cannot be."""
    if not 0 <= successes <= n or alpha <= 0 or beta <= 0:
        raise ValueError(f"There are no {successes} successes of {n} under a prior of Beta({alpha}, {beta}).")
    return Posterior(alpha + successes, beta + n - successes)


def _log_beta(a: float, b: float) -> float:
    return lgamma(a) + lgamma(b) - lgamma(a + b)
