"""A share and how sure it is: k of n with an interval; of nothing, no interval.

>>> [round(bound, 4) for bound in wilson(0, 20)]
[0.0, 0.1611]
>>> wilson(0, 0) is None
True
"""

from __future__ import annotations

from math import sqrt
from statistics import NormalDist

from labcases.core.odds import Posterior, beta_posterior

__all__ = ["Posterior", "beta_posterior", "wilson"]


def wilson(k: int, n: int, confidence: float = 0.95) -> tuple[float, float] | None:
    """The Wilson score interval of a share of ``k`` in ``n``, without continuity correction; None without data.

    The bounds are the shares p whose distance from k/n is z standard errors of p itself, so that unlike the
    textbook interval it never leaves 0 to 1 and is not empty at k = 0 or k = n. Raises ValueError unless
    0 <= k <= n and 0 < confidence < 1.
    """
    if not 0 <= k <= n:
        raise ValueError(f"{k} of {n} is no share.")
    z = normal_z(confidence)
    if n == 0:
        return None
    share, square = k / n, z * z / n
    middle = (share + square / 2) / (1 + square)
    reach = z / (1 + square) * sqrt(share * (1 - share) / n + square / (4 * n))
    return (0.0 if k == 0 else middle - reach), (1.0 if k == n else middle + reach)


def normal_z(confidence: float) -> float:
    """How many standard errors on either side hold a share of ``confidence`` of a normal distribution."""
    if not 0 < confidence < 1:
        raise ValueError(f"A confidence lies between 0 and 1; {confidence} does not.")
    return NormalDist().inv_cdf((1 + confidence) / 2)
