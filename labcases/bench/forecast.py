"""How long the rest will take, what an hour still brings, and whether going on is worth it.

A **reading** is a moment and what had been read by then, of one pass and one head: sectors, and bytes of what is
wanted, each counted from the beginning of that pass and head. Readings of all passes and heads come together.

**Time on the machine.** What counts is the time spent reading, not the time on the wall. Readings are put in order of
time; between two that follow one another on the same pass and head, and no more than an hour apart, both the time and
the gain are added to that pass and head. A longer silence is a pause. A count that goes backwards (something was
withdrawn) starts anew. Both repairs are said in ``notes``.

**Rate.** The Theil-Sen estimate: the median of the slopes between every two readings, so that a stall or a burst moves
it little; of more than 500 readings, 500 evenly chosen. Its interval is Sen's (1968), from the ranks of the slopes
(95 %). A dying drive changes its pace, so the interval is widened to hold the rate of the last third as well.

>>> slope = theil_sen([0, 1, 2, 3, 4], [0, 10, 20, 90, 40])  # one wild reading
>>> slope.likely
10.0

**Time left** is what is left divided by the rate, and its ends by the ends of the rate; if the rate may be nothing,
there is no upper end. The times of all passes and heads are added up, for one machine does them one after the other.

**Too early to tell** with fewer than 5 readings or less than 10 minutes of reading. **Worth going on** if an hour still
brings half a per cent of what is wanted and missing (of the sectors left, if nothing particular is wanted); common
practice, no source, and the lab's to change.

>>> told = forecast(
...     [Reading(at=600.0 * n, sectors=60_000 * n, pass_number=2, head=1) for n in range(12)],
...     left={(2, 1): 3_600_000},
... )
>>> told.sentence
'Pass 2, head 1: 360,000 sectors an hour; 3,600,000 sectors left, about 10 hours. Worth going on.'
>>> forecast([Reading(at=0, sectors=0), Reading(at=60, sectors=4_000)], left={(1, None): 9}).sentence
'Pass 1: too early to tell; 2 readings over 1 minute.'
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import NormalDist
from typing import Literal, NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

Key: TypeAlias = tuple[int, int | None]  # pass and head; None if the head is not known
Verdict: TypeAlias = Literal["yes", "no", "too early to tell"]
Floats: TypeAlias = npt.NDArray[np.float64]

CONFIDENCE = 0.95
FEWEST = 5  # readings before anything is said
SHORTEST = 600.0  # seconds of reading before anything is said
PAUSE = 3_600.0  # seconds of silence that are a pause
MOST = 500  # readings that the slopes are taken from
LEAST_SHARE = 0.005  # of what is wanted and missing, an hour: below that it is not worth going on


class BadReading(ValueError):
    """A reading that cannot be; ``row`` counts from 1."""

    def __init__(self, sentence: str, row: int) -> None:
        super().__init__(f"Row {row}: {sentence}")
        self.row = row


@dataclass(frozen=True, slots=True)
class Reading:
    """``at`` in seconds on any clock; ``sectors`` and ``wanted_bytes`` read so far in this pass by this head."""

    at: float
    sectors: int
    pass_number: int = 1
    head: int | None = None
    wanted_bytes: int = 0


class Slope(NamedTuple):
    """A rate with its interval, in units of y a unit of x; ``intercept`` is the median of y less the slope's part."""

    likely: float
    low: float
    high: float
    intercept: float


class Interval(NamedTuple):
    """Seconds: least, likeliest, most; None where nothing can be said (no progress, or no upper end)."""

    low: float | None
    likely: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Pace:
    """One pass and head: its readings and its rates per hour; the rates are None while it is too early to tell."""

    key: Key
    readings: int
    seconds: float
    sectors_an_hour: Slope | None
    wanted_an_hour: Slope | None
    sectors_left: int
    time_left: Interval | None

    @property
    def name(self) -> str:
        return f"Pass {self.key[0]}" + ("" if self.key[1] is None else f", head {self.key[1]}")


@dataclass(frozen=True, slots=True)
class Forecast:
    """``current`` is what is being read now. ``time_left`` is of everything whose rate is known; ``unknown`` names the
    rest of what is left. ``verdict`` answers "worth going on?", and ``sentence`` says it with its numbers."""

    paces: tuple[Pace, ...]
    current: Pace | None
    time_left: Interval | None
    unknown: tuple[str, ...]
    verdict: Verdict
    sentence: str
    notes: tuple[str, ...]


def theil_sen(x: Sequence[float] | Floats, y: Sequence[float] | Floats, confidence: float = CONFIDENCE) -> Slope:
    """The median slope of y over x and Sen's interval for it; ValueError unless two different x are given."""
    xs, ys = np.asarray(x, np.float64), np.asarray(y, np.float64)
    if xs.shape != ys.shape or xs.ndim != 1:
        raise ValueError("As many x as y are needed.")
    first, second = np.triu_indices(xs.size, 1)
    run, rise = xs[second] - xs[first], ys[second] - ys[first]
    if not (run != 0).any():
        raise ValueError("A rate needs readings at two different times.")
    slopes = np.sort(rise[run != 0] / run[run != 0])
    likely = float(np.median(slopes))
    z = NormalDist().inv_cdf((1 + confidence) / 2)
    spread = z * math.sqrt(max(_variance(xs, ys), 0.0))
    low = max(round((slopes.size - spread) / 2) - 1, 0)
    high = min(round((slopes.size + spread) / 2), slopes.size - 1)
    return Slope(likely, float(slopes[low]), float(slopes[high]), float(np.median(ys) - likely * np.median(xs)))


def _variance(x: Floats, y: Floats) -> float:
    """Of Kendall's score, with ties (Sen 1968, 2.6)."""

    def term(n: npt.NDArray[np.int64]) -> float:
        return float((n * (n - 1) * (2 * n + 5)).sum())

    repeats = (np.unique(values, return_counts=True)[1].astype(np.int64) for values in (x, y))
    return (term(np.array([x.size], np.int64)) - sum(term(counts) for counts in repeats)) / 18


def seconds_left(left: float, rate: float) -> float | None:
    """``left`` divided by ``rate`` a second; None without progress.

    >>> seconds_left(100, 4.0), seconds_left(100, 0.0), seconds_left(0, 0.0)
    (25.0, None, 0.0)
    """
    if left <= 0:
        return 0.0
    return left / rate if rate > 0 else None


def forecast(
    readings: Sequence[Reading],
    left: Mapping[Key, int],
    *,
    wanted_missing: int = 0,
    least_share: float = LEAST_SHARE,
) -> Forecast:
    """What the readings say of the rest. ``left`` are sectors not yet read, per pass and head.

    ``wanted_missing`` are the bytes of what is wanted and not yet read; 0 if nothing particular is. Readings in any
    order. Raises BadReading for a number that cannot be, with its row.
    """
    tracks, notes = _tracks(readings)
    keys = sorted({*tracks, *left}, key=lambda key: (key[0], -1 if key[1] is None else key[1]))
    paces = tuple(_pace(key, tracks.get(key, _Track()), left.get(key, 0)) for key in keys)
    last = max(readings, key=lambda reading: reading.at, default=None)
    current = next((p for p in paces if last and p.key == (last.pass_number, last.head)), None)
    verdict = _verdict(current, wanted_missing, least_share)
    return Forecast(
        paces=paces,
        current=current,
        time_left=_added([pace.time_left for pace in paces if pace.sectors_left and pace.time_left]),
        unknown=tuple(pace.name for pace in paces if pace.sectors_left and pace.time_left is None),
        verdict=verdict,
        sentence=_sentence(current, verdict, wanted_missing),
        notes=tuple(notes),
    )


class _Track:
    """The readings of one pass and head on a clock of its own that stands still in pauses."""

    def __init__(self) -> None:
        self.seconds: list[float] = []
        self.sectors: list[int] = []
        self.wanted: list[int] = []

    def add(self, seconds: float, sectors: int, wanted: int) -> None:
        first = not self.seconds
        self.seconds.append(0.0 if first else self.seconds[-1] + seconds)
        self.sectors.append(0 if first else self.sectors[-1] + sectors)
        self.wanted.append(0 if first else self.wanted[-1] + wanted)


def _tracks(readings: Sequence[Reading]) -> tuple[dict[Key, _Track], list[str]]:
    for row, reading in enumerate(readings, 1):
        _refuse(reading, row)
    notes = [
        f"Row {row} is earlier than row {row - 1}; put in order of time."
        for row, (before, after) in enumerate(pairwise(readings), 2)
        if after.at < before.at
    ]
    ordered = sorted(enumerate(readings, 1), key=lambda pair: pair[1].at)
    tracks: dict[Key, _Track] = {}
    before: Reading | None = None
    for row, now in ordered:
        track = tracks.setdefault((now.pass_number, now.head), _Track())
        seconds, sectors, wanted, note = _between(before, now)
        if note:
            notes.append(f"Row {row}: {note}")
        track.add(seconds, sectors, wanted)
        before = now
    return tracks, notes


def _refuse(reading: Reading, row: int) -> None:
    if not math.isfinite(reading.at):
        raise BadReading("the time of the reading is not a number.", row)
    if reading.sectors < 0 or reading.wanted_bytes < 0:
        raise BadReading("what has been read cannot be less than nothing.", row)


def _between(before: Reading | None, now: Reading) -> tuple[float, int, int, str]:
    """Seconds, sectors, wanted bytes to add to the track, and a note if something was repaired."""
    if before is None or (before.pass_number, before.head) != (now.pass_number, now.head):
        return 0.0, 0, 0, ""
    seconds, sectors = now.at - before.at, now.sectors - before.sectors
    if sectors < 0 or now.wanted_bytes < before.wanted_bytes:
        return (
            0.0,
            0,
            0,
            f"the count went back from {before.sectors:,} to {now.sectors:,} sectors; begun anew from there.",
        )
    if seconds > PAUSE:
        return 0.0, 0, 0, f"nothing was heard for {in_time(seconds)}; taken as a pause."
    return seconds, sectors, now.wanted_bytes - before.wanted_bytes, ""


def _pace(key: Key, track: _Track, left: int) -> Pace:
    seconds = track.seconds[-1] if track.seconds else 0.0
    if len(track.seconds) < FEWEST or seconds < SHORTEST:
        return Pace(key, len(track.seconds), seconds, None, None, left, Interval(0.0, 0.0, 0.0) if not left else None)
    hours = np.array(track.seconds) / 3_600
    rate, wanted = _rate(hours, np.array(track.sectors, float)), _rate(hours, np.array(track.wanted, float))
    ends = (seconds_left(left, an_hour / 3_600) for an_hour in (rate.high, rate.likely, rate.low))
    return Pace(key, len(track.seconds), seconds, rate, wanted, left, Interval(*ends))


def _rate(hours: Floats, gained: Floats) -> Slope:
    """Theil-Sen, its interval widened to hold the rate of the last third."""
    chosen = np.unique(np.linspace(0, hours.size - 1, min(hours.size, MOST)).astype(np.int64))
    whole = theil_sen(hours[chosen], gained[chosen])
    late = chosen[-max(3, chosen.size // 3) :]
    if hours[late[0]] == hours[late[-1]]:
        return whole
    now = theil_sen(hours[late], gained[late]).likely
    return whole._replace(low=max(min(whole.low, now), 0.0), high=max(whole.high, now))


def _added(intervals: Sequence[Interval]) -> Interval | None:
    """One after the other: the ends added up; an end that nothing is known of leaves the sum unknown."""
    if not intervals:
        return None
    return Interval(*(None if None in ends else sum(ends) for ends in zip(*intervals, strict=True)))


def _verdict(pace: Pace | None, wanted_missing: int, least_share: float) -> Verdict:
    if pace is None or pace.sectors_an_hour is None or pace.wanted_an_hour is None:
        return "too early to tell"
    if not pace.sectors_left:
        return "no"
    if wanted_missing:
        return "yes" if pace.wanted_an_hour.high >= least_share * wanted_missing else "no"
    return "yes" if pace.sectors_an_hour.high >= least_share * pace.sectors_left else "no"


def _sentence(pace: Pace | None, verdict: Verdict, wanted_missing: int) -> str:
    if pace is None:
        return "Too early to tell; there are no readings yet."
    if pace.sectors_an_hour is None or pace.wanted_an_hour is None:
        count = "1 reading" if pace.readings == 1 else f"{pace.readings:,} readings"
        return f"{pace.name}: too early to tell; {count} over {in_time(pace.seconds)}."
    if not pace.sectors_left:
        return f"{pace.name}: nothing is left to read."
    gain = [f"{in_numbers(pace.sectors_an_hour)} sectors an hour"]
    if wanted_missing:
        gain.append(
            f"{in_bytes(pace.wanted_an_hour.likely)} an hour of the {in_bytes(wanted_missing)} wanted and missing"
        )
    closing = "Worth going on." if verdict == "yes" else "Hardly worth going on."
    return f"{pace.name}: {', '.join(gain)}; {pace.sectors_left:,} sectors left, {time_left(pace.time_left)}. {closing}"


def in_numbers(slope: Slope | None) -> str:
    """A rate with its interval; "too early to tell" when there is none."""
    if slope is None:
        return "too early to tell"
    low, likely, high = (f"{value:,.0f}" for value in (slope.low, slope.likely, slope.high))
    return likely if low == high else f"{likely} ({low} to {high})"


def time_left(time: Interval | None) -> str:
    """Time left as an interval in words."""
    if time is None or time.low is None:
        return "no end in sight at this rate"
    if time.high is None:
        return f"{in_time(time.low)} at the least"
    low, high = in_time(time.low), in_time(time.high)
    if low == high:
        return f"about {low}"
    same_unit = low.rsplit(" ", 1)[1].rstrip("s") == high.rsplit(" ", 1)[1].rstrip("s")
    return f"{low.rsplit(' ', 1)[0]} to {high}" if same_unit else f"{low} to {high}"


def in_time(seconds: float) -> str:
    """
    >>> [in_time(s) for s in (20, 60, 3_000, 4 * 3_600, 80 * 3_600)]
    ['1 minute', '1 minute', '50 minutes', '4 hours', '3 days']
    """
    for unit, size, upto in (("minute", 60, 5_400), ("hour", 3_600, 48 * 3_600), ("day", 86_400, math.inf)):
        if seconds < upto:
            count = max(round(seconds / size), 1)
            return f"{count:,} {unit}" + ("" if count == 1 else "s")
    raise ValueError("A duration is finite.")


def in_bytes(count: float) -> str:
    """
    >>> [in_bytes(n) for n in (0, 999, 1_500, 23_400_000, 4e12)]
    ['0 bytes', '999 bytes', '1.5 kB', '23.4 MB', '4.0 TB']
    """
    if count < 1000:
        return f"{count:,.0f} bytes"
    power = min(int(math.log10(count) // 3), 5)
    return f"{count / 1000**power:.1f} {'kMGTP'[power - 1]}B"
