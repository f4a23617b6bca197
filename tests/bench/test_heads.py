"""Heads are compared with their neighbours in the same zones, never by their whole average."""

from __future__ import annotations

import numpy as np
import pytest

from labcases.bench.coverage import Coverage
from labcases.bench.heads import Delays, judge
from labcases.bench.spans import BadSpan

TOTAL, HEADS, ZONE = 1_600_000, 4, 100_000
STRIPE = 5_000


def serpentine() -> dict[int, list[tuple[int, int]]]:
    """Four heads that take turns every 5,000 sectors."""
    return {h: [(at, STRIPE) for at in range(h * STRIPE, TOTAL, HEADS * STRIPE)] for h in range(HEADS)}


def disk(*rows: tuple[int, int, str]) -> Coverage:
    """All read but for these rows."""
    return Coverage.from_rows(TOTAL, list(rows)).overlay(
        [(first, sectors, "read") for first, sectors in Coverage.from_rows(TOTAL, list(rows)).spans("unreached")]
    )


def states(coverage: Coverage, delays: Delays | None = None) -> list[str]:
    return [head.state for head in judge(coverage, serpentine(), delays)]


def test_heads_that_all_read_are_good() -> None:
    assert states(disk()) == ["good"] * 4


def test_a_head_that_resists_where_its_neighbours_read_is_weak() -> None:
    hurt = disk(*((at + 2 * STRIPE, 400, "unreadable") for at in range(0, TOTAL, HEADS * STRIPE)))
    assert states(hurt) == ["good", "good", "weak", "good"]


def test_damage_that_lies_under_all_heads_alike_makes_none_of_them_weak() -> None:
    """A ring of bad sectors in the first zone: a whole average would blame nobody either, but neither may a zone."""
    assert states(disk((0, 20_000, "unreadable"))) == ["good"] * 4


def test_a_head_that_only_tried_the_bad_zone_is_not_weak_for_it() -> None:
    """Zone 0 is bad under all heads; head 0 has tried nothing else, the others have read everything else too."""
    rows: list[tuple[int, int, str]] = []
    for head, spans in serpentine().items():
        for first, sectors in spans:
            if first < ZONE:
                rows += [(first, sectors // 2, "unreadable"), (first + sectors // 2, sectors - sectors // 2, "read")]
            elif head:
                rows.append((first, sectors, "read"))
    assert [head.state for head in judge(Coverage.from_rows(TOTAL, rows), serpentine())] == ["good"] * 4


def test_one_bad_head_does_not_make_another_look_good() -> None:
    rows = [(at, 4_000, "unreadable") for at in range(0, TOTAL, HEADS * STRIPE)]
    rows += [(at + STRIPE, 500, "skipped") for at in range(0, TOTAL, HEADS * STRIPE)]
    assert states(disk(*rows)) == ["weak", "weak", "good", "good"]


def test_a_head_that_reads_nothing_where_others_read_is_dead() -> None:
    hurt = disk(*((at, STRIPE, "skipped") for at in range(0, TOTAL, HEADS * STRIPE)))
    assert states(hurt) == ["dead", "good", "good", "good"]


def test_too_little_tried_is_said_and_not_judged() -> None:
    head = judge(Coverage.from_rows(TOTAL, [(0, 200, "unreadable")]), serpentine())[0]
    assert (head.state, head.known) == ("good", False)
    assert head.why == "Too early to tell: 200 sectors tried, 10,000 are the fewest."


def test_a_slow_head_is_found_by_its_delays_in_the_same_zones() -> None:
    """Inner zones take twice as long under every head (zoned recording); head 3 takes three times its neighbours."""
    firsts = np.arange(0, TOTAL, STRIPE)
    zoned = 1 + firsts / TOTAL
    slow = np.where((firsts // STRIPE) % HEADS == 3, 3.0, 1.0)
    told = Delays(firsts, np.full(firsts.size, STRIPE), 4 * zoned * slow)
    assert states(disk(), told) == ["good", "good", "good", "slow"]


def test_inner_zones_being_slower_makes_no_head_slow() -> None:
    """A head that reads the inner half only beside one that reads all: outer is about twice as fast (common practice,
    no source)."""
    heads = {0: [(0, TOTAL // 2)], 1: [(TOTAL // 2, TOTAL // 2)]}
    firsts = np.arange(0, TOTAL, STRIPE)
    told = Delays(firsts, np.full(firsts.size, STRIPE), np.where(firsts < TOTAL // 2, 4.0, 9.0))
    assert [head.state for head in judge(disk(), heads, told)] == ["good", "good"]


def test_heads_off_the_medium_are_refused() -> None:
    with pytest.raises(BadSpan, match="past the end"):
        judge(disk(), {0: [(TOTAL - 1, 2)]})
