"""A chart of progress as shapes that a template draws: an ink line, and the band in which the rest may run.

Axes carry their units, the number of readings is printed, and the page shows the same numbers as a table.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from labcases.bench.drawing import SCREEN, Label, Pen, Shape, Sheet, shape
from labcases.bench.forecast import Slope

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 900, 260, 84, 20, 16, 40
LONGEST = 3.0  # the band is drawn at most so many times as far as the readings reach
STEPS = (1, 2, 5)


def progress(points: Sequence[tuple[float, int]], rate: Slope | None, left: int) -> Sheet | None:
    """Sectors over hours; None with fewer than two points. ``rate`` is per hour, ``left`` what is still to come."""
    if len(points) < 2 or points[-1][0] <= points[0][0]:
        return None
    last_hour, last_count = points[-1]
    ahead = _ahead(last_hour - points[0][0], rate, left)
    goal = last_count + (min(left, int(rate.high * ahead)) if rate else 0)
    across = _Axis(0.0, last_hour + ahead, LEFT, WIDTH - RIGHT)
    up = _Axis(0.0, max(float(max(goal, *(count for _, count in points))), 1.0), HEIGHT - BOTTOM, TOP)
    shapes = [shape(SCREEN.bracket, f"M{LEFT} {TOP}V{HEIGHT - BOTTOM}H{WIDTH - RIGHT}")]
    shapes += [*_band(points[-1], rate, ahead, left, across, up), *_line(points, across, up)]
    labels = [*_labels(across, up), Label(str(LEFT + 8), str(TOP + 12), f"{len(points):,} readings")]
    return Sheet(str(WIDTH), str(HEIGHT), "chart", SCREEN, shapes, labels, textures=False)


class _Axis:
    def __init__(self, low: float, high: float, begin: float, end: float) -> None:
        self.low, self.high, self.begin, self.end = low, high, begin, end

    def at(self, value: float) -> str:
        share = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return f"{self.begin + share * (self.end - self.begin):.1f}"

    def marks(self, about: int) -> list[float]:
        """Round numbers along it, about so many: 1, 2 or 5 times a power of ten apart."""
        rough = (self.high - self.low) / about
        power = 10.0 ** math.floor(math.log10(rough))
        step = next((n * power for n in STEPS if n * power >= rough), 10 * power)
        return [self.low + step * n for n in range(int((self.high - self.low) / step) + 1)]


def _ahead(past: float, rate: Slope | None, left: int) -> float:
    """Hours ahead that are drawn."""
    if rate is None or left <= 0 or rate.high <= 0:
        return 0.0
    needed = left / rate.likely if rate.likely > 0 else past * LONGEST
    return min(needed, past * LONGEST)


def _labels(across: _Axis, up: _Axis) -> Iterator[Label]:
    for value in up.marks(4):
        yield Label(str(LEFT - 6), f"{float(up.at(value)) + 4:.1f}", _short(value), "end")
    for value in across.marks(8):
        yield Label(across.at(value), str(HEIGHT - BOTTOM + 16), f"{value:g}", "middle")
    yield Label(str(WIDTH - RIGHT), str(HEIGHT - 6), "hours since the first reading", "end")
    yield Label(str(LEFT - 6), str(HEIGHT - 6), "sectors", "end")


def _short(value: float) -> str:
    """
    >>> [_short(n) for n in (0, 500, 20_000, 3_000_000, 4e9)]
    ['0', '500', '20 k', '3 M', '4 G']
    """
    for size, name in ((1e9, "G"), (1e6, "M"), (1e3, "k")):
        if value >= size:
            return f"{value / size:g} {name}"
    return f"{value:g}"


def _line(points: Sequence[tuple[float, int]], across: _Axis, up: _Axis) -> Iterator[Shape]:
    path = "L".join(f"{across.at(hour)} {up.at(count)}" for hour, count in points)
    yield shape(SCREEN.line, f"M{path}", "1.6")
    x, y = across.at(points[-1][0]), up.at(points[-1][1])
    yield shape(SCREEN.pointer, f"M{x} {y}m-3.5 0a3.5 3.5 0 1 0 7 0a3.5 3.5 0 1 0 -7 0z")


def _band(
    last: tuple[float, int], rate: Slope | None, ahead: float, left: int, across: _Axis, up: _Axis
) -> Iterator[Shape]:
    if rate is None or not ahead:
        return
    hour, count = last
    end, corner = across.at(hour + ahead), f"M{across.at(hour)} {up.at(count)}"

    def reached(speed: float) -> str:
        return up.at(count + min(max(speed, 0.0) * ahead, left))

    yield shape(Pen("fill-soft"), f"{corner}L{end} {reached(rate.high)}V{reached(rate.low)}z", opacity=".25")
    yield shape(SCREEN.line, f"{corner}L{end} {reached(rate.likely)}", "1", dashes="5 4")
