"""A medium cut up by its distance from damage: which stretches to read first, and which way to go through each.

Common practice, no source: read away from damage first and toward it last; come upon a damaged span from its far side,
which on the side of the higher sector numbers means reverse reading. Reverse reading is slow, so only the last band
before the damage is read so; bands farther off are read forward.

>>> for zone in cut(6_400, [(3_000, 3_100)], pass_number=1)[28:34]:
...     print(zone)
Zone(first=2800, band=1, reverse=False)
Zone(first=2900, band=0, reverse=False)
Zone(first=3000, band=-1, reverse=False)
Zone(first=3050, band=-1, reverse=True)
Zone(first=3100, band=0, reverse=True)
Zone(first=3200, band=1, reverse=False)

Damage toward an end of the medium, of which no more is known, is a span of no sectors there:

>>> [(zone.first, zone.band, zone.reverse) for zone in cut(128, [(0, 0)], pass_number=1)[:3]]
[(0, 0, True), (2, 1, False), (4, 2, False)]
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from labcases.bench.coverage import Coverage
from labcases.bench.spans import Ints, Span, read_spans, union

BANDS = 64  # a band is this part of the medium
CLOSE = 1024  # unreadable sectors closer than this part of the medium are one damaged span
WITHIN = -1  # the band of what lies within a damaged span


class Zone(NamedTuple):
    """A stretch that begins at ``first``; ``band`` counts from 0 beside the damage, and is WITHIN inside it."""

    first: int
    band: int
    reverse: bool


def damaged(coverage: Coverage, hints: Sequence[str | Span], low_is_outer: bool = True) -> list[Span]:
    """Damaged spans as ``[first, end)``, sorted: the hints "outer", "inner" and spans, and what was unreadable.

    >>> disk = Coverage.from_rows(10_240, [(100, 1, "unreadable"), (105, 1, "unreadable"), (900, 1, "unreadable")])
    >>> damaged(disk, ["outer"])
    [(0, 0), (100, 106), (900, 901)]
    """
    total = coverage.total_sectors
    sides = {"outer": 0 if low_is_outer else total, "inner": total if low_is_outer else 0}
    named = {hint for hint in hints if isinstance(hint, str)}
    if named - set(sides):
        raise ValueError(f"Damage is 'outer', 'inner' or a span, not {min(named - set(sides))!r}.")
    firsts, sectors = read_spans([hint for hint in hints if not isinstance(hint, str)], total)
    found, ends = _clusters(*coverage.columns("unreadable"), max(1, total // CLOSE))
    firsts, ends = union(np.concatenate((firsts, found)), np.concatenate((firsts + sectors, ends)))
    spans = list(zip(firsts.tolist(), ends.tolist(), strict=True))
    return sorted(spans + [(sides[hint], sides[hint]) for hint in named])


def _clusters(firsts: Ints, sectors: Ints, close: int) -> tuple[Ints, Ints]:
    """Spans nearer to one another than ``close`` taken together."""
    ends = firsts + sectors
    far = firsts[1:] - ends[:-1] > close
    return firsts[np.append(True, far)[: firsts.size]], ends[np.append(far, True)[: firsts.size]]


def cut(total: int, damage: Sequence[Span], pass_number: int) -> list[Zone]:
    """The zones of a medium, sorted; the first begins at 0. ``damage`` as ``damaged`` gives it.

    Even passes go the other way wherever no damage is near.
    """
    turned = pass_number % 2 == 0
    if not damage:
        return [Zone(0, BANDS, turned)]  # as far as can be
    zones: list[Zone] = []
    below: int | None = None  # where the damage before this gap ends
    for first, end in [*damage, (total, None)]:
        above = first if end is not None else None  # where the damage after this gap begins
        zones += _gap(below or 0, first, below is not None, above is not None, max(1, total // BANDS), turned)
        if end is not None:
            zones += _inside(first, end, total)
            below = end
    return zones


def _gap(start: int, end: int, below: bool, above: bool, width: int, turned: bool) -> Iterator[Zone]:
    """Bands between two damaged spans, or between one and an end of the medium: counted from the nearer damage."""
    middle = (start + end) // 2 if below and above else end if below else start
    for band, first in enumerate(range(start, middle, width)):
        yield Zone(first, band, band == 0 or turned)
    bands = -(-(end - middle) // width)
    for band in range(bands - 1, -1, -1):
        yield Zone(max(middle, end - (band + 1) * width), band, band > 0 and turned)


def _inside(first: int, end: int, total: int) -> Iterator[Zone]:
    """A damaged span: entered from each edge that has sound sectors before it, to meet in the middle."""
    middle = (first + end + 1) // 2
    if first == 0 and end < total:
        middle = first
    elif end == total:
        middle = end
    if first < middle:
        yield Zone(first, WITHIN, False)
    if middle < end:
        yield Zone(middle, WITHIN, True)
