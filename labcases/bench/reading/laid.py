"""The numbers of uploads in the order in which they were laid over one another, written short.

>>> short([1, 2, 3, 4, 7, 6]), numbers("1-4,7,6")
('1-4,7,6', [1, 2, 3, 4, 7, 6])
>>> short([]), numbers("")
('', [])
"""

from __future__ import annotations

from collections.abc import Sequence


def short(laid: Sequence[int]) -> str:
    """Runs of numbers that follow one another as ``first-last``."""
    runs: list[tuple[int, int]] = []
    for number in laid:
        if runs and number == runs[-1][1] + 1:
            runs[-1] = (runs[-1][0], number)
        else:
            runs.append((number, number))
    return ",".join(str(first) if first == last else f"{first}-{last}" for first, last in runs)


def numbers(text: str) -> list[int]:
    """The numbers again."""
    found: list[int] = []
    for run in filter(None, text.split(",")):
        first, _, last = run.partition("-")
        found += range(int(first), int(last or first) + 1)
    return found
