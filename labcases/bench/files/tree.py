"""The folders of a list, in the order of a walk through the tree: what lies under a folder is one run of ranks.

>>> growing = Growing()
>>> ids = [growing.at([b"b", b"x"]), growing.at([b"a"]), growing.at([b"b"])]
>>> tree, rank = growing.grown()
>>> [(tree.names[r], int(tree.parents[r]), int(tree.ends[r])) for r in range(tree.size)]
[(b'', -1, 4), (b'a', 0, 2), (b'b', 0, 4), (b'x', 2, 4)]
>>> [int(rank[known]) for known in ids], tree.way(3), tree.under(np.array([0, 5, 1, 2])).tolist()
([3, 1, 2], [0, 2, 3], [8, 5, 3, 2])
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from labcases.bench.spans import Ints


@dataclass(frozen=True)
class Tree:
    """Folders by rank, 0 being the root: name, rank of the folder around it, the rank behind all that lies under it."""

    names: Sequence[bytes]
    parents: npt.NDArray[np.int32]
    ends: npt.NDArray[np.int32]

    @property
    def size(self) -> int:
        return len(self.names)

    def way(self, rank: int) -> list[int]:
        """The ranks from the root to this folder."""
        way = []
        while rank >= 0:
            way.append(rank)
            rank = int(self.parents[rank])
        return way[::-1]

    def path(self, rank: int) -> bytes:
        return b"/".join(self.names[at] for at in self.way(rank)[1:])

    def within(self, rank: int) -> Ints:
        """The folders directly in a folder."""
        begin = rank + 1
        return np.flatnonzero(self.parents[begin : int(self.ends[rank])] == rank) + begin

    def under(self, own: Any) -> Ints:
        """From what each folder holds itself to what lies in it and under it."""
        sums = np.concatenate((np.zeros(1, np.int64), np.cumsum(own)))
        found: Ints = sums[self.ends] - sums[:-1]
        return found


class Growing:
    """A tree that is being met folder by folder."""

    def __init__(self) -> None:
        self._known: dict[tuple[int, bytes], int] = {}
        self._parents: list[int] = [-1]
        self._names: list[bytes] = [b""]

    def __len__(self) -> int:
        return len(self._names)

    def at(self, steps: Sequence[bytes]) -> int:
        """The number of a folder, in the order in which they were met; 0 is the root."""
        folder = 0
        for step in steps:
            found = self._known.get((folder, step))
            if found is None:
                found = self._known[folder, step] = len(self._names)
                self._names.append(step)
                self._parents.append(folder)
            folder = found
        return folder

    def grown(self) -> tuple[Tree, npt.NDArray[np.int32]]:
        """The tree, and the rank of each number that ``at`` gave."""
        inside: dict[int, list[int]] = {}
        for number in range(1, len(self._names)):
            inside.setdefault(self._parents[number], []).append(number)
        order, waiting = [], [0]
        while waiting:
            number = waiting.pop()
            order.append(number)
            waiting += sorted(inside.get(number, ()), key=self._names.__getitem__, reverse=True)
        rank = np.empty(len(order), np.int32)
        rank[order] = np.arange(len(order), dtype=np.int32)
        parents = np.array([-1 if number == 0 else rank[self._parents[number]] for number in order], np.int32)
        return Tree([self._names[number] for number in order], parents, _ends(parents)), rank


def _ends(parents: npt.NDArray[np.int32]) -> npt.NDArray[np.int32]:
    """Behind the last folder under each: found from the last rank back."""
    ends = list(range(1, parents.size + 1))
    above = parents.tolist()
    for rank in range(parents.size - 1, 0, -1):
        if ends[rank] > ends[above[rank]]:
            ends[above[rank]] = ends[rank]
    return np.array(ends, np.int32)
