"""Long tables on paper. A printed row costs about 4 ms, and ten times the rows cost fourteen times the time, so a
table stops after a thousand and says where the rest is.

>>> capped(range(3)).sentence
''
>>> capped(range(12345), rest="sectors.csv, attached to this file").sentence
'Rows 1 to 1,000 of 12,345 are printed here; all of them are in sectors.csv, attached to this file.'
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

T = TypeVar("T")
LIMIT = 1000


@dataclass(frozen=True)
class Capped(Generic[T]):
    """The rows to print, how many there are in all, and the sentence to print under them (or nothing)."""

    rows: Sequence[T]
    total: int
    sentence: str


def capped(rows: Sequence[T], limit: int = LIMIT, *, rest: str = "the file attached to this paper") -> Capped[T]:
    """At most ``limit`` rows; ``rest`` names the place where all of them are."""
    if len(rows) <= limit:
        return Capped(rows, len(rows), "")
    sentence = f"Rows 1 to {limit:,} of {len(rows):,} are printed here; all of them are in {rest}."
    return Capped(rows[:limit], len(rows), sentence)
