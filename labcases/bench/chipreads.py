"""Several reads of one chip, compared bit by bit: how many bits differ, and in which pages.

A tired flash chip gives other bits at every read. What is compared is the raw reads, byte for byte as they lie in the
files; a page is so many bytes as the chip's data sheet says, spare area included.

>>> told = compare([bytes(8), bytes([0, 1]) + bytes(6), bytes([0, 3]) + bytes(6)], page_bytes=4)
>>> told.pairs[0], told.unstable_bits, told.pages
(Pair(first=0, second=1, bits=1), 2, [(0, 2)])

``majority`` is what most of three or more reads say of each bit; where as many say one as the other, the bit of the
first read stays, and ``undecided`` counts it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

MOST_READS = 9
BLOCK = 1 << 22  # bytes at a time, so that a large chip does not fill the memory
Bytes = npt.NDArray[np.uint8]


class NotAlike(ValueError):
    """Reads that cannot be compared."""


class Pair(NamedTuple):
    """Two reads by their places, and how many of their bits differ."""

    first: int
    second: int
    bits: int


@dataclass(frozen=True)
class Compared:
    """What comparing told. ``pages`` are pages that differ at all, with the number of their unstable bits, worst first.

    ``unstable_bits`` counts bits on which the reads do not all agree; ``undecided`` those without a majority.
    """

    size: int
    page_bytes: int
    page_count: int
    pairs: list[Pair]
    unstable_bits: int
    undecided: int
    pages: list[tuple[int, int]]

    @property
    def pages_that_differ(self) -> int:
        return len(self.pages)


def compare(reads: Sequence[bytes], page_bytes: int) -> Compared:
    """Compare two to nine reads of equal length. Raises NotAlike with a sentence."""
    if not 2 <= len(reads) <= MOST_READS:
        raise NotAlike(
            f"Two to {MOST_READS} reads can be compared; there {'is' if len(reads) == 1 else 'are'} {len(reads)}."
        )
    sizes = {len(read) for read in reads}
    if len(sizes) > 1 or 0 in sizes:
        raise NotAlike("The reads are not equally long: " + ", ".join(f"{len(read):,} bytes" for read in reads) + ".")
    if page_bytes < 1:
        raise NotAlike("A page has at least one byte.")
    size, columns = sizes.pop(), [np.frombuffer(read, np.uint8) for read in reads]
    count = -(-size // page_bytes)
    pages = np.zeros(count, np.int64)
    bits = dict.fromkeys(combinations(range(len(reads)), 2), 0)
    undecided, step = 0, max(BLOCK // page_bytes, 1) * page_bytes
    for begin in range(0, size, step):
        block = [column[begin : begin + step] for column in columns]
        for pair in bits:
            bits[pair] += int(np.bitwise_count(block[pair[0]] ^ block[pair[1]]).sum())
        unstable = np.bitwise_count(_disagree(block))
        at = np.arange(0, unstable.size, page_bytes)
        first = begin // page_bytes
        pages[first : first + at.size] = np.add.reduceat(unstable.astype(np.int64), at)
        undecided += _undecided(block)
    met = np.flatnonzero(pages)
    order = met[np.argsort(-pages[met], kind="stable")]
    return Compared(
        size=size, page_bytes=page_bytes, page_count=count,
        pairs=[Pair(*pair, found) for pair, found in bits.items()],
        unstable_bits=int(pages.sum()), undecided=undecided,
        pages=[(int(page), int(pages[page])) for page in order],
    )  # fmt: skip


def majority(reads: Sequence[bytes]) -> bytes:
    """What most of three or more reads say of each bit; a tie keeps the bit of the first read.

    >>> majority([b"\\x0f", b"\\x0d", b"\\x0f"])
    b'\\x0f'
    """
    if len(reads) < 3 or len({len(read) for read in reads}) > 1:
        raise NotAlike("A majority needs three or more reads of equal length.")
    size, out = len(reads[0]), []
    for begin in range(0, size, BLOCK):
        bits = np.stack([np.unpackbits(np.frombuffer(read[begin : begin + BLOCK], np.uint8)) for read in reads])
        ones = 2 * bits.sum(axis=0, dtype=np.int16)
        out.append(np.packbits(np.where(ones == len(reads), bits[0], ones > len(reads))).tobytes())
    return b"".join(out)


def _disagree(block: Sequence[Bytes]) -> Bytes:
    """A bit for each place on which the reads do not all agree."""
    every, some = block[0].copy(), block[0].copy()
    for column in block[1:]:
        every &= column
        some |= column
    found: Bytes = every ^ some
    return found


def _undecided(block: Sequence[Bytes]) -> int:
    if len(block) % 2:
        return 0
    bits = np.unpackbits(np.stack(block), axis=1).sum(axis=0, dtype=np.int16)
    return int((2 * bits == len(block)).sum())
