"""How often this kind of fit has worked here: expected success with its interval and its count.

Every use of a part ends worked, partly or failed. For one family, part and score band the share that works is
unknown; before any use every share from 0 to 1 counts as equally likely, which is Beta(1, 1). Each *worked* adds
one to the first parameter, each *failed* one to the second, each *partly* one half to both. The mean of the
posterior Beta(a, b) is a / (a + b), and it is also the chance that the next one works; the interval leaves an
equal share of the posterior outside at each end.

>>> seven = expected_success(worked=7, failed=3)
>>> round(seven.mean, 4), round(seven.low, 4), round(seven.high, 4), seven.count
(0.6667, 0.4356, 0.8649, 10)
>>> seven.sentence
'Expect about 67 %, between 44 % and 86 % (10 recorded: 7 worked, 3 failed).'

With no history it says so, and gives no figure to defend:

>>> nothing = expected_success()
>>> nothing.has_history, nothing.success, nothing.sentence
(False, None, 'No history yet.')
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from scipy.special import betaincinv

from labcases.stock.rules import PartKind, fold


class Outcome(StrEnum):
    """How the use of a part ended."""

    WORKED = "worked"
    PARTLY = "partly"
    FAILED = "failed"


class Band(NamedTuple):
    """Scores that are counted together, both ends included."""

    low: int
    high: int

    def __str__(self) -> str:
        return f"{self.low}–{self.high}"


BANDS = (Band(0, 49), Band(50, 69), Band(70, 84), Band(85, 100))
UNIFORM = (1.0, 1.0)
INTERVAL = 0.9  # share of the posterior inside the interval that is shown


@dataclass(frozen=True, slots=True)
class Expected:
    """A Beta posterior: ``a`` and ``b`` are its parameters, the counts are what was recorded."""

    a: float
    b: float
    worked: int = 0
    partly: int = 0
    failed: int = 0
    inside: float = INTERVAL

    @property
    def count(self) -> int:
        """How many uses were recorded."""
        return self.worked + self.partly + self.failed

    @property
    def has_history(self) -> bool:
        """Whether anything was recorded at all."""
        return self.count > 0

    @property
    def mean(self) -> float:
        """The posterior's mean, which is the chance that the next one works."""
        return self.a / (self.a + self.b)

    @property
    def success(self) -> float | None:
        """The mean, or None with no history: what ranking takes."""
        return self.mean if self.has_history else None

    def quantile(self, share: float) -> float:
        """The success below which ``share`` (0 to 1) of the posterior lies."""
        return float(betaincinv(self.a, self.b, share))

    @property
    def low(self) -> float:
        """Lower end of the interval."""
        return self.quantile((1 - self.inside) / 2)

    @property
    def high(self) -> float:
        """Upper end of the interval."""
        return self.quantile((1 + self.inside) / 2)

    @property
    def sentence(self) -> str:
        """What the page says."""
        if not self.has_history:
            return "No history yet."
        parts = [(self.worked, "worked"), (self.partly, "partly"), (self.failed, "failed")]
        recorded = ", ".join(f"{n} {word}" for n, word in parts if n)
        figures = f"Expect about {_percent(self.mean)}, between {_percent(self.low)} and {_percent(self.high)}"
        return f"{figures} ({self.count} recorded: {recorded})."


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def expected_success(
    *,
    worked: int = 0,
    partly: int = 0,
    failed: int = 0,
    prior: tuple[float, float] = UNIFORM,
    inside: float = INTERVAL,
) -> Expected:
    """The posterior after the recorded outcomes.

    Raises ValueError for a negative count, a prior that is not above 0, or an interval outside 0 to 1.
    """
    if min(worked, partly, failed) < 0:
        raise ValueError(f"Outcomes are counted from 0: got {worked} worked, {partly} partly, {failed} failed.")
    if min(prior) <= 0:
        raise ValueError(f"Both figures of the prior must be above 0: got {prior}.")
    if not 0 < inside < 1:
        raise ValueError(f"The interval holds a share between 0 and 1: got {inside}.")
    half = partly / 2
    return Expected(prior[0] + worked + half, prior[1] + failed + half, worked, partly, failed, inside)


class Use(NamedTuple):
    """One recorded use of a part: of which family, what part, with which score it was chosen, how it ended."""

    family: str
    part: PartKind
    score: int
    outcome: Outcome


@dataclass(frozen=True, slots=True)
class History:
    """What was recorded, counted by family, part and score band."""

    counts: Mapping[tuple[str, PartKind, Band], Mapping[Outcome, int]]

    @classmethod
    def of(cls, uses: Iterable[Use]) -> History:
        """Count recorded uses; families are told apart without blanks and case."""
        counts: dict[tuple[str, PartKind, Band], Counter[Outcome]] = {}
        for use in uses:
            key = (fold(use.family), PartKind(use.part), band_of(use.score))
            counts.setdefault(key, Counter())[Outcome(use.outcome)] += 1
        return cls(counts)

    def expected(self, family: str | None, part: PartKind, band: Band) -> Expected:
        """Expected success for one family, part and score band; a family that is not known has no history."""
        counted = self.counts.get((fold(family), part, band), {}) if family else {}
        return expected_success(
            worked=counted.get(Outcome.WORKED, 0),
            partly=counted.get(Outcome.PARTLY, 0),
            failed=counted.get(Outcome.FAILED, 0),
        )

    def success(self, family: str | None, part: PartKind, band: Band) -> float | None:
        """The same as one number from 0 to 1, None with no history."""
        return self.expected(family, part, band).success


def band_of(score: int) -> Band:
    """The band a score belongs to. Raises ValueError outside 0 to 100.

    >>> str(band_of(84)), str(band_of(85))
    ('70–84', '85–100')
    """
    for band in BANDS:
        if band.low <= score <= band.high:
            return band
    raise ValueError(f"A score goes from 0 to 100: got {score}.")
