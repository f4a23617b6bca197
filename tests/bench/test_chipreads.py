"""A chip's reads compared bit by bit, against counting bit by bit in Python."""

from __future__ import annotations

import numpy as np
import pytest

from labcases.bench.chipreads import BLOCK, NotAlike, compare, majority
from labcases.bench.dumps.actions import keep_dump
from labcases.lab.roles import Role


def bits(data: bytes) -> list[int]:
    return [byte >> at & 1 for byte in data for at in range(8)]


@pytest.mark.parametrize("count", [2, 3, 4])
def test_bits_pages_and_pairs_are_those_that_counting_one_by_one_gives(count: int) -> None:
    chance = np.random.default_rng(count)
    base = chance.bytes(100)
    reads = [bytes(byte ^ (1 << int(chance.integers(8)) if chance.random() < 0.1 else 0) for byte in base)
             for _ in range(count)]  # fmt: skip
    told = compare(reads, page_bytes=16)
    columns = list(zip(*map(bits, reads), strict=True))
    unstable = [len(set(column)) > 1 for column in columns]
    assert told.unstable_bits == sum(unstable)
    pages = {page: sum(unstable[page * 128 : (page + 1) * 128]) for page in range(7)}
    assert dict(told.pages) == {page: found for page, found in pages.items() if found}
    assert told.undecided == sum(2 * sum(column) == count for column in columns)
    for first, second, found in told.pairs:
        assert found == sum(column[first] != column[second] for column in columns)


def test_a_chip_larger_than_a_block_is_compared_to_its_end() -> None:
    one = bytes(BLOCK + 100)
    other = one[:-1] + b"\x01"
    told = compare([one, other], page_bytes=2112)
    assert told.pages == [((BLOCK + 99) // 2112, 1)]


def test_most_reads_decide_each_bit() -> None:
    reads = [b"\xff\x00", b"\xfe\x00", b"\xff\x01"]
    assert majority(reads) == b"\xff\x00"


@pytest.mark.parametrize("reads", [[b"a"], [b"a", b"ab"], [b"", b""], [b"a"] * 10])
def test_what_cannot_be_compared_is_refused(reads: list[bytes]) -> None:
    with pytest.raises(NotAlike):
        compare(reads, page_bytes=16)


def test_the_page_of_a_chip_says_how_many_bits_differ(make, noon, client_as):
    make.profile()
    item = make.item(kind="flashchip")
    by = make.actor(Role.ENGINEER)
    for name, data in (("read 1", bytes(64)), ("read 2", bytes(32) + b"\x07" + bytes(31))):
        keep_dump(kind="chip", outcome="whole", name=name, data=data, item=item, by=by, happened=noon)
    page = client_as(Role.COUNTER).get(f"/bench/{item}/chip-reads/?page_bytes=16").content.decode()
    assert "3 bits differ, in 1 of 4 pages." in page
