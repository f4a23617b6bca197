"""Coverage against the PyPI library ``portion``, against a plain array with one entry a sector, and against vectors.

Vectors: topics interval_arithmetic and coverage_partitions_files; each file says its source and how it was made.
"""

from __future__ import annotations

import json
from fractions import Fraction
from functools import reduce
from pathlib import Path
from typing import Any

import numpy as np
import portion
import pytest

from labcases.bench.coverage import CODES, STATES, BadSpan, Coverage, percent

VECTORS = Path(__file__).parent / "vectors"
INTERVALS = json.loads((VECTORS / "interval_arithmetic.json").read_text())["cases"]
DISKS = json.loads((VECTORS / "coverage_partitions_files.json").read_text())["cases"]
SETS = [case for case in INTERVALS if "expect" not in case]
REFUSED = [case for case in INTERVALS if "expect" in case]

Pair = list[int]


def rows(pairs: list[Pair], state: str = "read") -> list[tuple[int, int, str]]:
    return [(start, end - start, state) for start, end in pairs]


def pairs(spans: list[tuple[int, int]]) -> list[Pair]:
    return [[first, first + sectors] for first, sectors in spans]


def as_spans(pairs: list[Pair]) -> list[tuple[int, int]]:
    return [(start, end - start) for start, end in pairs]


def test_there_are_vectors() -> None:
    assert (len(SETS), len(REFUSED), len(DISKS)) >= (25, 2, 7)


@pytest.mark.parametrize("case", SETS, ids=lambda case: case["name"])
def test_sets_of_sectors_agree_with_the_vectors(case: dict[str, Any]) -> None:
    total = case["total"]
    a, b = Coverage.from_rows(total, rows(case["A"])), Coverage.from_rows(total, rows(case["B"]))
    union, marked = a.overlay(rows(case["B"])), a.overlay(rows(case["B"], "doubtful"))
    assert pairs(a.spans("read")) == case["normalised_A"]
    assert pairs(a.spans("unreached")) == case["complement_of_A"]
    assert pairs(union.spans("read")) == case["union"]
    assert pairs(marked.spans("read")) == pairs(a.withdraw(as_spans(case["B"])).spans("read")) == case["A_minus_B"]
    assert pairs(b.withdraw(as_spans(case["A"])).spans("read")) == case["B_minus_A"]
    assert a.count("read") == case["covered_A"]
    assert union.count("read") == case["covered_union"]
    assert percent(a.count("read"), total) == case["percent_A_floor_2dp"]
    assert a.share("read", [(0, total)]) == Fraction(case["percent_A_exact_fraction"])


@pytest.mark.parametrize("case", REFUSED, ids=lambda case: case["name"])
def test_spans_that_cannot_be_are_refused(case: dict[str, Any]) -> None:
    with pytest.raises(BadSpan):
        Coverage.from_rows(case.get("total", 100), rows(case["A"]))


@pytest.mark.parametrize("disk", DISKS, ids=lambda disk: disk["name"])
def test_partitions_and_files_agree_with_the_vectors(disk: dict[str, Any]) -> None:
    coverage = Coverage.from_rows(disk["total"], rows(disk["read_ok"]))
    for part in disk["partitions"]:
        size = part["end"] - part["start"]
        assert coverage.count("read", part["start"], size) == part["read"]
        assert (coverage.share("read", [(part["start"], size)]) == 1) is part["complete"]
    outside = as_spans(disk["outside_partitions"]["ranges"])
    assert coverage.count_in("read", outside) == disk["outside_partitions"]["read"]


@pytest.mark.parametrize("disk", DISKS, ids=lambda disk: disk["name"])
def test_files_are_counted_together_as_the_vectors_count_them(disk: dict[str, Any]) -> None:
    coverage, files = Coverage.from_rows(disk["total"], rows(disk["read_ok"])), disk["files"]
    extents = [extent for file in files for extent in as_spans(file["extents"])]
    firsts, sectors = np.array(extents, np.int64).reshape(-1, 2).T
    sizes = np.array([len(file["extents"]) for file in files])
    found = coverage.count_groups("read", firsts, sectors, sizes)
    assert found.tolist() == [file["read"] for file in files]
    assert [bool(n == file["sectors"]) for n, file in zip(found, files, strict=True)] == [f["complete"] for f in files]


# The rule of states written a second time, on one entry a sector and one row after the other.


def lay(sectors: list[str], batch: list[tuple[int, int, str]]) -> list[str]:
    strongest = ["unreached"] * len(sectors)
    for first, length, state in batch:
        for at in range(first, first + length):
            if STRENGTH.index(state) > STRENGTH.index(strongest[at]):
                strongest[at] = state
    return [settle(old, new) for old, new in zip(sectors, strongest, strict=True)]


STRENGTH = ["unreached", "left_out", "skipped", "unreadable", "doubtful", "read"]


def settle(old: str, new: str) -> str:
    if new == "unreached":
        return old
    if old == "read" and new != "doubtful":
        return old
    return new


def random_batch(chance: np.random.Generator, total: int, rows: int) -> list[tuple[int, int, str]]:
    firsts = chance.integers(0, total + 1, rows)
    lengths = np.minimum(chance.geometric(0.08, rows) - 1, total - firsts)
    return [(int(f), int(n), str(chance.choice(STATES))) for f, n in zip(firsts, lengths, strict=True)]


@pytest.mark.parametrize("seed", range(40))
def test_random_histories_agree_with_an_array_of_sectors(seed: int) -> None:
    chance = np.random.default_rng(seed)
    total = int(chance.integers(1, 300))
    coverage, sectors = Coverage.from_rows(total), ["unreached"] * total
    for _ in range(6):
        batch = random_batch(chance, total, int(chance.integers(0, 25)))
        coverage, sectors = coverage.overlay(batch), lay(sectors, batch)
        first, length, _state = random_batch(chance, total, 1)[0]
        coverage = coverage.withdraw([(first, length)])
        sectors[first : first + length] = ["unreached"] * length
        assert [coverage.state_at(at) for at in range(total)] == sectors
    plain = np.array([CODES[state] for state in sectors])
    first, length, _state = random_batch(chance, total, 1)[0]
    for state, code in CODES.items():
        assert coverage.count(state, first, length) == int((plain[first : first + length] == code).sum())


def interval(first: int, sectors: int) -> portion.Interval:
    return portion.closedopen(first, first + sectors)


@pytest.mark.parametrize("seed", range(40))
def test_random_spans_on_a_large_medium_agree_with_portion(seed: int) -> None:
    chance = np.random.default_rng(seed)
    total = int(chance.integers(2**33, 2**40))
    places = np.sort(chance.integers(0, total, (2, 30, 2)), axis=2)
    old, new = ([(int(a), int(b - a)) for a, b in batch] for batch in places)
    read = reduce(lambda had, span: had | interval(*span), old, portion.empty())
    tried = reduce(lambda had, span: had | interval(*span), new, portion.empty())
    coverage = Coverage.from_rows(total, [(*span, "read") for span in old])
    coverage = coverage.overlay([(*span, "unreadable") for span in new])
    assert pairs(coverage.spans("read")) == listed(read)
    assert pairs(coverage.spans("unreadable")) == listed(tried - read)
    assert pairs(coverage.withdraw(new).spans("read")) == listed(read - tried)
    assert coverage.count_in("read", new) == sum(end - start for start, end in listed(read & tried))


def listed(found: portion.Interval) -> list[Pair]:
    return [[part.lower, part.upper] for part in found if not part.empty]
