"""Whether members hold together: the same stretch of each copy, held against the rule of the level.

Taken from the copies at the same place behind each one's beginning of data. Where the members are all there and in no
wrong state, this must hold byte for byte, whatever lies there:

* mirrors: the copies are equal;
* one parity (levels 4 and 5): the exclusive or of all members is zero, wherever parity lies;
* two parities (level 6): of each stripe two members hold P and Q of the others. Which, changes from stripe to stripe,
  so every pair is tried, with the data counted on from behind Q round the array (the usual way; common practice, no
  source) and from place 0.

What does not hold has a stale member, a wrong one, or a wrong offset: the sums cannot say which.

>>> held("5", [b"\\x01\\x02", b"\\x04\\x00", b"\\x05\\x02"]).sentence
'It holds: on all 2 bytes the members add up to nothing.'
>>> held("5", [b"\\x01\\x02", b"\\x04\\x00", b"\\x05\\x03"]).sentence
'It does not hold: on 1 of 2 bytes they do not.'
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np

from labcases.bench.arrays.parity import parities
from labcases.core.units import counted

CHECKED = ("1", "10", "4", "5", "6")


class NotComparable(ValueError):
    """Pieces that cannot be held against one another, in a sentence."""


@dataclass(frozen=True, slots=True)
class Held:
    """``agreeing`` of ``size`` bytes of one member hold; ``sentence`` says so."""

    size: int
    agreeing: int
    sentence: str

    @property
    def whole(self) -> bool:
        return self.agreeing == self.size


def held(level: str, pieces: Sequence[bytes], *, copies: int = 2, stripe_bytes: int = 0) -> Held:
    """Hold the pieces of all members, in their order, against the rule of a level. Raises NotComparable."""
    if level not in CHECKED:
        raise NotComparable("This level keeps nothing twice: there is no sum that could hold.")
    sizes = {len(piece) for piece in pieces}
    if len(pieces) < 2 or len(sizes) > 1 or 0 in sizes:
        raise NotComparable("Give pieces of equal length, one of each member.")
    size = sizes.pop()
    if level in ("1", "10"):
        agreeing = _equal(pieces, len(pieces) if level == "1" else copies)
        return _said(size, agreeing, "the copies are alike", "the copies differ")
    if level == "6":
        return _two_parities(pieces, stripe_bytes)
    total = np.zeros(size, np.uint8)
    for piece in pieces:
        total ^= np.frombuffer(piece, np.uint8)
    return _said(size, size - int(np.count_nonzero(total)), "the members add up to nothing", "they do not")


def _said(size: int, agreeing: int, so: str, not_so: str) -> Held:
    if agreeing == size:
        return Held(size, agreeing, f"It holds: on all {size:,} bytes {so}.")
    return Held(size, agreeing, f"It does not hold: on {size - agreeing:,} of {size:,} bytes {not_so}.")


def _equal(pieces: Sequence[bytes], copies: int) -> int:
    """Bytes on which all copies of each group agree."""
    alike = np.ones(len(pieces[0]), np.bool_)
    for first in range(0, len(pieces), copies):
        group = [np.frombuffer(piece, np.uint8) for piece in pieces[first : first + copies]]
        for other in group[1:]:
            alike &= other == group[0]
    return int(np.count_nonzero(alike))


def _two_parities(pieces: Sequence[bytes], stripe_bytes: int) -> Held:
    size, step = len(pieces[0]), stripe_bytes or len(pieces[0])
    if size % step:
        raise NotComparable(f"Give whole stripe units: {step:,} bytes, or several times that.")
    found = [_pair([piece[at : at + step] for piece in pieces]) for at in range(0, size, step)]
    good = sum(pair is not None for pair in found)
    where = next((f": in the first that holds, P on place {p} and Q on place {q}" for p, q in filter(None, found)), "")
    if good == len(found):
        return Held(
            size, size, f"It holds: in each of {counted(good, 'stripe')} two members are parities of the others{where}."
        )
    return Held(
        size, good * step,
        f"It does not hold: in {len(found) - good:,} of {counted(len(found), 'stripe')} no two members are parities "
        f"of the others{where}.",
    )  # fmt: skip


def _pair(blocks: Sequence[bytes]) -> tuple[int, int] | None:
    """The places of P and Q in one stripe; None when no two members are parities of the others."""
    for p, q in permutations(range(len(blocks)), 2):
        for order in _orders(len(blocks), p, q):
            if parities([blocks[at] for at in order]) == (blocks[p], blocks[q]):
                return p, q
    return None


def _orders(count: int, p: int, q: int) -> Iterator[list[int]]:
    """Ways in which the data of a stripe is counted."""
    round_ = [at % count for at in range(q + 1, q + 1 + count)]
    yield [at for at in round_ if at not in (p, q)]
    yield [at for at in range(count) if at not in (p, q)]
