"""What is typed one thing a line at the counter, read into records.

>>> counted_lines("2 USB cables\\npower supply\\nseal bag x3")
[('USB cables', 2), ('power supply', 1), ('seal bag', 3)]
>>> wanted_lines("! Photographs 2019\\n- Letters")
[WantedLine(what='Photographs 2019', urgent=True), WantedLine(what='Letters', urgent=False)]
"""

from __future__ import annotations

import re

from labcases.cases.intake import WantedLine

MOST_OF_ONE = 999
_BEFORE = re.compile(r"(\d{1,6})\s*(?:[x×*]\s*|\s)(?=\S)(.+)", re.IGNORECASE)
_BEHIND = re.compile(r"(.+?)\s*[x×*]\s*(\d{1,6})", re.IGNORECASE)
_BULLET = re.compile(r"^(?:[-–—•*·]|\d{1,3}[.)])\s+")


class TooMany(ValueError):
    """A count that nobody lays on a counter; ``str(error)`` is a sentence."""


def counted_lines(text: str) -> list[tuple[str, int]]:
    """Words and count of each line; one when no number stands before the words, or behind them after a times sign.

    Raises TooMany for a count of 0 or of more than 999.
    """
    return [_counted(line.strip()) for line in text.splitlines() if line.strip()]


def _counted(line: str) -> tuple[str, int]:
    if match := _BEFORE.fullmatch(line):
        count, words = int(match[1]), match[2]
    elif match := _BEHIND.fullmatch(line):
        words, count = match[1], int(match[2])
    else:
        return line, 1
    if not 1 <= count <= MOST_OF_ONE:
        raise TooMany(f"“{line[:60]}” counts {count}. Count 1 to {MOST_OF_ONE}, or write the number in words.")
    return words.strip(), count


def wanted_lines(text: str) -> list[WantedLine]:
    """One wish a line, in the order given; an exclamation mark before or behind it makes it urgent."""
    return [_wanted(line.strip()) for line in text.splitlines() if line.strip("-–—•*·! \t")]


def _wanted(line: str) -> WantedLine:
    urgent = line.startswith("!") or line.endswith("!")
    return WantedLine(what=_BULLET.sub("", line.strip("! ")), urgent=urgent)
