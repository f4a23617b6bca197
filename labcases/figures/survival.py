"""How long things take while some are still under way: the Kaplan-Meier estimate.

Leaving out what has not ended yet, or counting it as ended today, makes a lab look faster than it is. Instead, at
each time t at which something ended, the share still open is lowered by the share that ended of those still
observed then: S(t) is the product of (1 - ended / at risk). What was only observed up to t counts as at risk at t.

Five cases: two ended after 3 days, one after 8; one is open after 5 days, one after 9:

>>> curve = kaplan_meier([3, 3, 5, 8, 9], [True, True, False, True, False])
>>> [(step.t, step.at_risk, step.ended) for step in curve.steps]
[(3, 5, 2), (8, 2, 1)]
>>> curve.at(2), curve.at(3), curve.at(8), curve.quantile(0.5)
(1.0, 0.6, 0.3, 8)
>>> [round(bound, 2) for bound in curve.interval(3)]
[0.13, 0.88]
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import exp, log, sqrt

from labcases.figures.rates import normal_z


@dataclass(frozen=True)
class Step:
    """A time at which something ended. ``share`` is S(t), exact; ``scatter`` Greenwood's sum of d / (n (n - d)),
    None once nothing is left and the sum has no value."""

    t: float
    at_risk: int
    ended: int
    share: Fraction
    scatter: float | None


@dataclass(frozen=True)
class Curve:
    """The estimated share S(t) still open after t; it falls at its steps, from 1."""

    steps: tuple[Step, ...]

    def at(self, t: float) -> float:
        """S(t), what ended at t itself taken off. After the last observation it stays where it was."""
        step = self._step(t)
        return float(step.share) if step else 1.0

    def quantile(self, q: float) -> float | None:
        """The first time at which the share still open is ``q`` or less; None where it never falls so far.

        0.5 is the median; 0.25 the time by which three of four had ended. Shares are compared as exact
        fractions: with floats a share of exactly one half can come out a hair above it, and the next time with it.
        """
        wanted = Fraction(str(float(q)))
        return next((step.t for step in self.steps if step.share <= wanted), None)

    def standard_error(self, t: float) -> float | None:
        """Greenwood's standard error of S(t); None once S(t) is 0, where it is not defined."""
        step = self._step(t)
        if step is None:
            return 0.0
        return None if step.scatter is None else float(step.share) * sqrt(step.scatter)

    def interval(self, t: float, confidence: float = 0.95) -> tuple[float, float]:
        """Bounds of S(t) on the log-log scale, S(t) ** exp(±z se / log S(t)): they never leave 0 to 1.

        While nothing has ended, and once nothing is left, no interval is defined: both bounds are S(t).
        """
        z, step = normal_z(confidence), self._step(t)
        if step is None or step.scatter is None:
            return self.at(t), self.at(t)
        share = float(step.share)
        reach = z * sqrt(step.scatter) / log(share)  # negative, as the logarithm is
        return share ** exp(-reach), share ** exp(reach)

    def _step(self, t: float) -> Step | None:
        position = bisect_right(self.steps, t, key=lambda step: step.t)
        return self.steps[position - 1] if position else None


def kaplan_meier(durations: Sequence[float], ended: Sequence[bool]) -> Curve:
    """The curve of durations, each with whether it ended then or was only observed up to then.

    Raises ValueError without observations, for lists of different length and for negative durations.
    """
    if not durations or len(durations) != len(ended) or min(durations) < 0:
        raise ValueError(f"{len(durations)} durations from 0 up, and {len(ended)} endings, make no curve.")
    return Curve(tuple(_steps(durations, ended)))


def _steps(durations: Sequence[float], ended: Sequence[bool]) -> Iterator[Step]:
    leaving = Counter(durations)
    ending = Counter(t for t, over in zip(durations, ended, strict=True) if over)
    at_risk, share, scatter = len(durations), Fraction(1), 0.0
    for t in sorted(leaving):
        if gone := ending[t]:
            left = at_risk - gone
            share *= Fraction(left, at_risk)
            scatter += gone / (at_risk * left) if left else 0.0
            yield Step(t, at_risk, gone, share, scatter if left else None)
        at_risk -= leaving[t]
