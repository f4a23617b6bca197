"""How each head does, by comparing it with its neighbours *in the same zones*.

Outer zones read faster than inner ones and damage lies where it lies, so a head is never judged by its whole average.
The medium is cut into zones; in each, what was tried by a head is compared with the **median of the other heads there**
(the median, so that one bad head does not make another look good). From this follow two standardised ratios, what a
head shows over what its neighbours would have shown in its place:

* errors: sectors skipped or unreadable, of those tried. ``WEAK_AT`` times its neighbours, and ``FEWEST_BAD`` of them at
  least, is weak; nothing read of ``FEWEST`` tried, where its neighbours do read, is dead;
* delays: mean milliseconds of its spans, where the tables told them. ``SLOW_AT`` times its neighbours is slow.

Common practice, no source: no fixed number fits all families, so these are the lab's to change, and what an engineer
says of a head stands above what is worked out.

>>> disk = Coverage.from_rows(80_000, [(0, 80_000, "read")])
>>> hurt = Coverage.from_rows(80_000, [(0, 20_000, "read"), (20_000, 1_000, "skipped"), (21_000, 59_000, "read")])
>>> reads = {0: [(0, 20_000), (40_000, 20_000)], 1: [(20_000, 20_000), (60_000, 20_000)]}
>>> [head.state for head in judge(disk, reads, zones=1)], [head.state for head in judge(hurt, reads, zones=1)]
(['good', 'good'], ['good', 'weak'])
>>> judge(hurt, reads, zones=1)[1].why
'1,000 of 40,000 tried sectors resisted, more than 1,000 times what its neighbours show in the same zones.'
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from labcases.bench.coverage import Coverage
from labcases.bench.plan import HeadState
from labcases.bench.spans import Ints, Rows, read_spans, union

ZONES = 16
FEWEST = 10_000  # tried sectors, before anything is said of a head
FEWEST_BAD = 100
WEAK_AT, SLOW_AT = 4.0, 2.0
MOST_SHOWN = 1_000
TRIED_BAD, TRIED_GOOD = ("skipped", "unreadable"), ("read", "doubtful")

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class HeadSaid:
    """What the coverage and the delays say of one head. ``known`` is False while too little was tried to tell."""

    number: int
    sectors: int
    tried: int
    bad: int
    read: int
    error_ratio: float | None
    delay: float | None
    delay_ratio: float | None
    state: HeadState
    known: bool
    why: str


class Delays(NamedTuple):
    """Spans with the milliseconds each took; rows without a delay are left out."""

    firsts: Ints
    sectors: Ints
    milliseconds: Floats


def judge(
    coverage: Coverage, heads: Mapping[int, Rows], delays: Delays | None = None, *, zones: int = ZONES
) -> list[HeadSaid]:
    """What is to be said of each head, by its number. ``heads`` gives the spans ``(first, sectors)`` that each reads.

    Raises BadSpan for a span that is not on the medium.
    """
    edges = np.array([zone * coverage.total_sectors // zones for zone in range(zones + 1)], np.int64)
    numbers = sorted(heads)
    cuts = [_cut(coverage, heads[number], edges) for number in numbers]
    bad = np.array([_per_zone(coverage, TRIED_BAD, *cut, edges) for cut in cuts], np.float64).reshape(-1, zones)
    good = np.array([_per_zone(coverage, TRIED_GOOD, *cut, edges) for cut in cuts], np.float64).reshape(-1, zones)
    weight, slowness = _delays(delays, cuts, edges)
    return [
        _said(number, at, cuts[at], coverage, bad, bad + good, weight, slowness) for at, number in enumerate(numbers)
    ]


def _cut(coverage: Coverage, spans: Rows, edges: Ints) -> tuple[Ints, Ints]:
    """Firsts and ends of a head's spans, cut at the zones' edges."""
    firsts, sectors = read_spans(spans, coverage.total_sectors)
    firsts, ends = union(firsts, firsts + sectors)
    inner = edges[1:-1]
    within = np.searchsorted(firsts, inner, side="right") - 1
    held = inner[(within >= 0) & (firsts[within] < inner) & (inner < ends[within])] if firsts.size else inner[:0]
    return np.sort(np.concatenate((firsts, held))), np.sort(np.concatenate((ends, held)))


def _per_zone(coverage: Coverage, states: Sequence[str], firsts: Ints, ends: Ints, edges: Ints) -> Ints:
    zone = np.searchsorted(edges, firsts, side="right") - 1
    sums = np.zeros(edges.size - 1, np.int64)
    for state in states:
        np.add.at(sums, zone, coverage.count_each(state, firsts, ends - firsts))
    return sums


def _delays(delays: Delays | None, cuts: Sequence[tuple[Ints, Ints]], edges: Ints) -> tuple[Floats, Floats]:
    """Per head and zone: sectors whose delay is known, and the sum of milliseconds times sectors.

    A span counts for the head and the zone in which it begins.
    """
    shape = (len(cuts), edges.size - 1)
    weight, total = np.zeros(shape), np.zeros(shape)
    if delays is None:
        return weight, total
    told = ~np.isnan(delays.milliseconds)
    firsts, sectors, milliseconds = delays.firsts[told], delays.sectors[told], delays.milliseconds[told]
    zone = np.minimum(np.searchsorted(edges, firsts, side="right") - 1, edges.size - 2)
    for at, (begins, ends) in enumerate(cuts):
        if not begins.size:
            continue
        held = np.searchsorted(begins, firsts, side="right") - 1
        mine = (held >= 0) & (firsts < ends[held])
        np.add.at(weight[at], zone[mine], sectors[mine])
        np.add.at(total[at], zone[mine], sectors[mine] * milliseconds[mine])
    return weight, total


def _ratio(at: int, amount: Floats, weight: Floats, least: float) -> float | None:
    """What one row shows over what the median of the others would have shown with its weights; None if none compare."""
    others = np.delete(np.arange(weight.shape[0]), at)
    shown = expected = compared = 0.0
    for zone in np.flatnonzero(weight[at] > 0):
        there = others[weight[others, zone] > 0]
        if there.size:
            rate = float(np.median(amount[there, zone] / weight[there, zone]))
            shown += amount[at, zone]
            expected += rate * weight[at, zone]
            compared += weight[at, zone]
    return (shown + least) / (expected + least) if compared else None


def _said(
    number: int, at: int, cut: tuple[Ints, Ints], coverage: Coverage,
    bad: Floats, tried: Floats, weight: Floats, slowness: Floats,
) -> HeadSaid:  # fmt: skip
    firsts, ends = cut
    errors, delay_ratio = _ratio(at, bad, tried, 0.5), _ratio(at, slowness, weight, 1e-9)
    told = float(weight[at].sum())
    amount, wrong = int(tried[at].sum()), int(bad[at].sum())
    state, known, why = _verdict(amount, wrong, errors, delay_ratio)
    return HeadSaid(
        number=number,
        sectors=int((ends - firsts).sum()),
        tried=amount,
        bad=wrong,
        read=int(coverage.count_each("read", firsts, ends - firsts).sum()),
        error_ratio=errors,
        delay=float(slowness[at].sum()) / told if told else None,
        delay_ratio=delay_ratio,
        state=state,
        known=known,
        why=why,
    )


def _verdict(tried: int, bad: int, errors: float | None, delays: float | None) -> tuple[HeadState, bool, str]:
    resisted = f"{bad:,} of {tried:,} tried sectors resisted"
    if tried < FEWEST:
        return "good", False, f"Too early to tell: {tried:,} sectors tried, {FEWEST:,} are the fewest."
    if errors is None:
        return "good", False, f"{resisted}; no other head was tried in the same zones, so there is nothing to compare."
    if bad == tried and errors >= WEAK_AT:
        return "dead", True, f"Nothing was read of {tried:,} tried sectors, where its neighbours do read."
    if bad >= FEWEST_BAD and errors >= WEAK_AT:
        return "weak", True, f"{resisted}, {_times(errors)} what its neighbours show in the same zones."
    if delays is not None and delays >= SLOW_AT:
        return "slow", True, f"It takes {_times(delays)} as long as its neighbours in the same zones."
    return "good", True, f"{resisted}, about as its neighbours in the same zones."


def _times(ratio: float) -> str:
    if ratio > MOST_SHOWN:
        return f"more than {MOST_SHOWN:,} times"
    return f"{ratio:,.0f} times" if ratio >= 10 else f"{ratio:.1f} times"
