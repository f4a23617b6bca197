"""A chart of progress as SVG: an ink line through what was noted, and the band in which the rest may run.

Axes carry their units, the number of readings is printed, and the page shows the same numbers as a table.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from labcases.bench.forecast import Slope

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 900, 260, 84, 20, 16, 40
LONGEST = 3.0  # the band is drawn at most so many times as far as the readings reach
STEPS = (1, 2, 5)


def progress(points: Sequence[tuple[float, int]], rate: Slope | None, left: int) -> str:
    """Sectors over hours; empty with fewer than two points. ``rate`` is per hour, ``left`` what is still to come."""
    if len(points) < 2 or points[-1][0] <= points[0][0]:
        return ""
    last_hour, last_count = points[-1]
    ahead = _ahead(last_hour - points[0][0], rate, left)
    goal = last_count + (min(left, int(rate.high * ahead)) if rate else 0)
    across = _Axis(0.0, max(last_hour + ahead, 1e-9), LEFT, WIDTH - RIGHT)
    up = _Axis(0.0, max(float(max(goal, *(count for _, count in points))), 1.0), HEIGHT - BOTTOM, TOP)
    body = [_grid(across, up), _band(points[-1], rate, ahead, left, across, up), _line(points, across, up)]
    note = f"{len(points):,} readings"
    return (
        f'<svg class="lanes" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
        f'aria-label="Sectors read over hours, {note}; the table below says the same">'
        f'{"".join(body)}<text x="{LEFT + 8}" y="{TOP + 12}">{escape(note)}</text></svg>'
    )


class _Axis:
    def __init__(self, low: float, high: float, begin: float, end: float) -> None:
        self.low, self.high, self.begin, self.end = low, high, begin, end

    def at(self, value: float) -> str:
        share = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return f"{self.begin + share * (self.end - self.begin):.1f}"

    def marks(self, about: int) -> list[float]:
        """Round numbers along it, about so many."""
        rough = (self.high - self.low) / about
        power = 10.0 ** len(str(int(rough))) / 10 if rough >= 1 else 0.1
        step = next((n * power for n in STEPS if n * power >= rough), 10 * power)
        count = int((self.high - self.low) / step)
        return [self.low + step * n for n in range(count + 1)]


def _ahead(past: float, rate: Slope | None, left: int) -> float:
    """Hours ahead that are drawn."""
    if rate is None or left <= 0 or rate.high <= 0:
        return 0.0
    needed = left / rate.likely if rate.likely > 0 else past * LONGEST
    return min(needed, past * LONGEST)


def _grid(across: _Axis, up: _Axis) -> str:
    parts = [f'<path class="bracket" d="M{LEFT} {TOP}V{HEIGHT - BOTTOM}H{WIDTH - RIGHT}"/>']
    for value in up.marks(4):
        parts.append(f'<text x="{LEFT - 6}" y="{float(up.at(value)) + 4:.1f}" text-anchor="end">{_short(value)}</text>')
    for value in across.marks(8):
        x = across.at(value)
        parts.append(f'<text x="{x}" y="{HEIGHT - BOTTOM + 16}" text-anchor="middle">{value:g}</text>')
    parts.append(f'<text x="{WIDTH - RIGHT}" y="{HEIGHT - 6}" text-anchor="end">hours since the first reading</text>')
    parts.append(f'<text x="{LEFT - 6}" y="{HEIGHT - 6}" text-anchor="end">sectors</text>')
    return "".join(parts)


def _short(value: float) -> str:
    for size, name in ((1e9, "G"), (1e6, "M"), (1e3, "k")):
        if value >= size:
            return f"{value / size:g} {name}"
    return f"{value:g}"


def _line(points: Sequence[tuple[float, int]], across: _Axis, up: _Axis) -> str:
    path = " ".join(f"{across.at(hour)},{up.at(count)}" for hour, count in points)
    last = points[-1]
    dot = f'<circle class="pointer" cx="{across.at(last[0])}" cy="{up.at(last[1])}" r="3.5"/>'
    return f'<polyline class="stroke-ink" stroke-width="1.6" points="{path}"/>{dot}'


def _band(last: tuple[float, int], rate: Slope | None, ahead: float, left: int, across: _Axis, up: _Axis) -> str:
    if rate is None or not ahead:
        return ""
    hour, count = last
    end = hour + ahead

    def reached(speed: float) -> str:
        return up.at(count + min(speed * ahead, left))

    corner = f"{across.at(hour)},{up.at(count)}"
    band = f"{corner} {across.at(end)},{reached(rate.high)} {across.at(end)},{reached(max(rate.low, 0.0))}"
    likely = f"{corner} {across.at(end)},{reached(rate.likely)}"
    return (
        f'<polygon class="fill-soft" fill-opacity=".25" points="{band}"/>'
        f'<polyline class="stroke-ink" stroke-width="1" stroke-dasharray="5 4" points="{likely}"/>'
    )
