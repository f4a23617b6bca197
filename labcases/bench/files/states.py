"""How whole each file is: from what was read of its extents, or from what the list itself says of it.

A file with extents has a coverage to be held against: it is whole when every sector of it was read, partial when some
were, not read when none was. A file without extents (or on a medium of which nothing is known) has only the result of
its own check, and ``from_list`` says so.

>>> disk = Coverage.from_rows(100, [(0, 50, "read")])
>>> column = lambda *numbers: np.array(numbers, np.int64)
>>> said = judge(disk, Extents(column(0, 40, 90), column(10, 20, 5), column(1, 1, 1, 0)), column(0, 0, 0, 1))
>>> [STATES[code] for code in said.states], said.read.tolist(), said.sectors.tolist(), said.from_list.tolist()
(['whole', 'partial', 'not', 'whole'], [10, 10, 0, 0], [10, 20, 5, 0], [False, False, False, True])
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from labcases.bench.coverage import Coverage
from labcases.bench.spans import Codes, Ints

STATES = ("unknown", "whole", "partial", "not")
UNKNOWN, WHOLE, PARTIAL, NOT = range(4)
WORDS = {"unknown": "not known", "whole": "whole", "partial": "partial", "not": "not read"}
Flags = npt.NDArray[np.bool_]


class Extents(NamedTuple):
    """Where files lie: first sectors and lengths of all extents, and how many of them each file has, in order."""

    firsts: Ints
    sectors: Ints
    sizes: Ints


@dataclass(frozen=True)
class Judged:
    """For each file: the code of its state, sectors read of sectors, and whether the list alone said it."""

    states: Codes
    read: Ints
    sectors: Ints
    from_list: Flags


def judge(coverage: Coverage | None, extents: Extents, said: Any) -> Judged:
    """The state of each file. ``said`` are the codes of what the list's own check says; extents lie on the medium."""
    own = np.asarray(said, np.uint8)
    total = _sums(extents.sectors, extents.sizes)
    if coverage is None:
        return Judged(own, np.zeros(own.size, np.int64), total, np.ones(own.size, np.bool_))
    read = coverage.count_groups("read", *extents)
    state = np.where(read == total, WHOLE, np.where(read > 0, PARTIAL, NOT)).astype(np.uint8)
    alone = total == 0
    state[alone] = own[alone]
    return Judged(state, read, total, alone)


def _sums(lengths: Ints, sizes: Ints) -> Ints:
    sums = np.concatenate((np.zeros(1, np.int64), np.cumsum(lengths)))
    return np.diff(sums[np.concatenate((np.zeros(1, np.int64), np.cumsum(sizes)))])


@dataclass(frozen=True)
class Counts:
    """How many files, by state; ``harmed``: of the whole ones, those of which the list's own check says otherwise."""

    files: tuple[int, int, int, int] = (0, 0, 0, 0)
    harmed: int = 0
    bytes: int = 0

    @property
    def total(self) -> int:
        return sum(self.files)

    def __add__(self, other: Counts) -> Counts:
        files = tuple(a + b for a, b in zip(self.files, other.files, strict=True))
        return Counts(files, self.harmed + other.harmed, self.bytes + other.bytes)  # type: ignore[arg-type]

    def as_list(self) -> list[int]:
        return [*self.files, self.harmed, self.bytes]

    @classmethod
    def from_list(cls, numbers: Sequence[int]) -> Counts:
        return cls(tuple(numbers[:4]), numbers[4], numbers[5])  # type: ignore[arg-type]

    @property
    def answer(self) -> str:
        """What these files answer to a line of the wanted list.

        >>> Counts((0, 3, 0, 0)).answer, Counts((0, 3, 0, 1)).answer, Counts((2, 0, 0, 1)).answer, Counts().answer
        ('whole', 'partial', 'unknown', 'unknown')
        """
        unknown, whole, partial, lost = self.files
        if whole and not (unknown or partial or lost or self.harmed):
            return "whole"
        if whole or partial:
            return "partial"
        return "not" if lost and not unknown else "unknown"

    @property
    def in_words(self) -> str:
        """The counts in a line: ``1,204 of 1,210 files whole, 6 partial``."""
        unknown, whole, partial, lost = self.files
        if not self.total:
            return "no file"
        words = [f"{whole:,} of {self.total:,} {'file' if self.total == 1 else 'files'} whole"]
        more = ((partial, "partial"), (lost, "not read"), (unknown, "not known"))
        words += [f"{count:,} {what}" for count, what in more if count]
        if self.harmed:
            words.append(f"{self.harmed:,} of the whole ones did not pass their own check")
        return ", ".join(words)


def count(states: Codes, said: Codes, sizes: Ints, chosen: Flags | None = None) -> Counts:
    """Count files; the bytes are those of the whole and the partial ones, a size that nobody knows counting nothing."""
    if chosen is not None:
        states, said, sizes = states[chosen], said[chosen], sizes[chosen]
    files = np.bincount(states, minlength=len(STATES))
    harmed = int(((states == WHOLE) & (said > WHOLE)).sum())
    there = (states == WHOLE) | (states == PARTIAL)
    return Counts(tuple(map(int, files)), harmed, int(np.maximum(sizes, 0)[there].sum()))  # type: ignore[arg-type]
