from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.bench.coverage import CODES, STATES, BadSpan, Coverage, derive, percent

TOTAL = 60
LARGEST = 2**63 - 1

row = st.integers(0, TOTAL).flatmap(
    lambda first: st.tuples(st.just(first), st.integers(0, TOTAL - first), st.sampled_from(STATES))
)
batches = st.lists(row, max_size=12)


def picture_of(coverage: Coverage) -> list[str]:
    """Sector by sector, from the spans it tells."""
    sectors = [""] * coverage.total_sectors
    for state in STATES:
        for first, length in coverage.spans(state):
            sectors[first : first + length] = [state] * length
    return sectors


def test_a_new_medium_is_unreached_throughout() -> None:
    assert Coverage.from_rows(100, []).spans("unreached") == [(0, 100)]


def test_touching_spans_of_one_state_are_one_span() -> None:
    assert Coverage.from_rows(100, [(10, 5, "read"), (0, 10, "read")]).spans("read") == [(0, 15)]


@pytest.mark.parametrize("weaker", range(len(STATES) - 1))
def test_within_a_batch_the_stronger_word_stands_in_either_order(weaker: int) -> None:
    for stronger in range(weaker + 1, len(STATES)):
        rows = [(0, 10, STATES[weaker]), (0, 10, STATES[stronger])]
        assert Coverage.from_rows(10, rows).state_at(5) == STATES[stronger]
        assert Coverage.from_rows(10, rows[::-1]).state_at(5) == STATES[stronger]


@pytest.mark.parametrize("old", STATES)
@pytest.mark.parametrize("new", STATES)
def test_a_newer_batch_wins_but_for_unreached_and_read(old: str, new: str) -> None:
    kept = new == "unreached" or (old == "read" and new != "doubtful")
    coverage = Coverage.from_rows(10, [(0, 10, old)]).overlay([(3, 4, new)])
    assert coverage.state_at(5) == (old if kept else new)
    assert coverage.state_at(2) == coverage.state_at(7) == old


def test_a_doubtful_sector_can_be_read_again() -> None:
    doubted = Coverage.from_rows(10, [(0, 10, "read")]).overlay([(0, 10, "doubtful")])
    assert doubted.overlay([(0, 4, "read")]).spans("doubtful") == [(4, 6)]


def test_a_withdrawal_takes_back_even_what_was_read() -> None:
    coverage = Coverage.from_rows(100, [(0, 50, "read"), (50, 10, "skipped")]).withdraw([(40, 15)])
    assert coverage.spans("unreached") == [(40, 15), (60, 40)]


def test_withdrawing_takes_rows_with_a_state_as_well() -> None:
    coverage = Coverage.from_rows(100, [(0, 50, "read")])
    assert coverage.withdraw([(0, 9, "read")]) == coverage.withdraw([(0, 9)])


def test_an_upload_left_out_of_the_history_never_was() -> None:
    first, wrong, last = [(0, 50, "read")], [(0, 99, "doubtful")], [(40, 30, "skipped")]
    with_all = derive(100, [("overlay", first), ("overlay", wrong), ("overlay", last)])
    without = derive(100, [("overlay", first), ("overlay", last)])
    assert without.count("doubtful") == 0 < with_all.count("doubtful")
    assert without.spans("read") == [(0, 50)]


def test_a_history_knows_two_verbs() -> None:
    with pytest.raises(ValueError, match="'overlay' or 'withdraw'"):
        derive(10, [("erase", [])])


def test_nothing_changes_in_place() -> None:
    before = Coverage.from_rows(100, [(0, 50, "read")])
    before.overlay([(0, 100, "skipped")]).withdraw([(0, 100)])
    assert before.spans("read") == [(0, 50)]
    with pytest.raises(ValueError, match="read-only"):
        before.starts[0] = 7
    with pytest.raises(AttributeError):
        before.total_sectors = 7  # type: ignore[misc]


def test_counts_add_up_to_the_range_asked_for() -> None:
    coverage = Coverage.from_rows(100, [(0, 50, "read"), (45, 10, "unreadable")])
    assert coverage.counts(40, 20) == {
        "read": 10, "doubtful": 0, "unreadable": 5, "skipped": 0, "left_out": 0, "unreached": 5,
    }  # fmt: skip


def test_a_share_counts_each_sector_once_however_the_spans_overlap() -> None:
    coverage = Coverage.from_rows(100, [(0, 10, "read")])
    assert coverage.share("read", [(0, 20), (5, 15), (0, 20)]) == Fraction(1, 2)


def test_a_file_of_no_sectors_is_whole() -> None:
    nothing = Coverage.from_rows(100)
    assert nothing.share("read", []) == nothing.share("read", [(5, 0)]) == 1
    assert nothing.share("unreached", []) == 0


def test_one_sector_missing_in_two_to_the_63_is_not_a_whole_medium() -> None:
    coverage = Coverage.from_rows(LARGEST, [(0, LARGEST - 1, "read")])
    assert coverage.share("read", [(0, LARGEST)]) < 1
    assert percent(coverage.count("read"), LARGEST) == "99.99"
    assert coverage.spans("unreached") == [(LARGEST - 1, 1)]


@pytest.mark.parametrize(("part", "whole", "shown"), [(1, 3, "33.33"), (0, 5, "0.00"), (5, 5, "100.00")])
def test_percentages_are_cut_off_never_rounded(part: int, whole: int, shown: str) -> None:
    assert percent(part, whole) == shown


def test_a_medium_of_no_sectors_is_harmless() -> None:
    nothing = Coverage.from_rows(0, [(0, 0, "read")])
    assert (nothing.count("read"), nothing.spans("unreached")) == (0, [])


@pytest.mark.parametrize(
    ("rows", "at", "words"),
    [
        ([(0, 5, "read"), (-1, 5, "read")], 2, "starts at -1"),
        ([(0, -5, "read")], 1, "cannot be negative"),
        ([(0, 5, "read"), (0, 5, "read"), (90, 11, "read")], 3, "run past the end; the medium has 100 sectors"),
        ([(101, 0, "read")], 1, "run past the end"),
        ([(5, LARGEST, "read")], 1, "run past the end"),
        ([(LARGEST, LARGEST, "read")], 1, "run past the end"),
        ([(-LARGEST, LARGEST, "read")], 1, "starts at"),
        ([(0, 5, "read"), (2**64, 5, "read")], 2, "does not fit into 64 bits"),
        ([(0, 5, "read"), (2**63, 5, "read")], 2, "does not fit into 64 bits"),
        ([(0, 10**5000, "read")], 1, "does not fit into 64 bits"),
        ([(0, 1.5, "read")], 1, "number of sectors is not a whole number: '1.5'"),
        ([(0, 5, "read"), (None, 5, "read")], 2, "first sector is not a whole number"),
        ([(True, 5, "read")], 1, "not a whole number"),
        ([("0", 5, "read")], 1, "not a whole number"),
        ([([0], 5, "read"), (0, 5, "read")], 1, "not a whole number"),
        ([(0, 5, "read"), (0, 5, "finished")], 2, "no state 'finished'"),
        ([(0, 5, ["read"])], 1, "no state"),
        ([(0, 5, "read"), (0, 5)], 2, "3 values are needed"),
        ([(0, 5, "read"), 7], 2, "3 values are needed"),
    ],
)
def test_what_cannot_be_true_is_refused_with_its_row(rows: list[object], at: int, words: str) -> None:
    with pytest.raises(BadSpan, match=words) as refused:
        Coverage.from_rows(100, rows)
    assert refused.value.row == at
    assert str(refused.value).startswith(f"Row {at}: ")


def test_one_bad_row_leaves_the_coverage_as_it_was() -> None:
    coverage = Coverage.from_rows(100, [(0, 5, "read")])
    with pytest.raises(BadSpan):
        coverage.overlay([(5, 5, "read"), (99, 5, "read")])
    assert coverage.count("read") == 5


@pytest.mark.parametrize("total", [-1, 2**63, 1.5, None])
def test_a_medium_has_a_whole_number_of_sectors(total: object) -> None:
    with pytest.raises(BadSpan):
        Coverage.from_rows(total)  # type: ignore[arg-type]


@pytest.mark.parametrize(("first", "sectors"), [(-1, 5), (99, 2), (101, None), (0, -1)])
def test_counting_beyond_the_medium_is_refused(first: int, sectors: int | None) -> None:
    with pytest.raises(BadSpan):
        Coverage.from_rows(100).count("read", first, sectors)


def test_an_unknown_state_cannot_be_asked_for() -> None:
    with pytest.raises(BadSpan, match="no state 'done'"):
        Coverage.from_rows(100).count("done")


ROWS = [(0, 10, "read"), (10, 4, "skipped"), (20, 1, "unreadable")]
NUMBERS = (np.array([0, 10, 20]), np.array([10, 4, 1]))
NAMES = np.array(["read", "skipped", "unreadable"])


@pytest.mark.parametrize(
    "rows",
    [
        [list(row) for row in ROWS],
        iter(ROWS),
        np.array(ROWS),  # numpy makes text of it all
        np.array(ROWS, dtype=object),
        np.array(ROWS, dtype=[("first", "i8"), ("length", "u4"), ("state", "U10")]),
        (*NUMBERS, NAMES),
        (*NUMBERS, NAMES.astype(object)),
        [NUMBERS[0].astype(np.uint64), NUMBERS[1].astype(np.int16), np.array([CODES[n] for n in NAMES], np.uint8)],
        np.array([list(row) for row in ROWS], dtype=object),
    ],
    ids=["lists", "iterator", "text", "objects", "structured", "columns", "object-column", "codes", "lists-in-array"],
)
def test_rows_may_come_as_tuples_arrays_or_columns(rows: object) -> None:
    assert Coverage.from_rows(30, rows) == Coverage.from_rows(30, ROWS)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "rows",
    [
        (np.array([0, 1]), np.array([1]), np.array(["read", "read"])),
        np.zeros(2, dtype=[("first", "i8")]),
        (np.array([2**63], np.uint64), np.array([1]), np.array(["read"])),
        (np.array([0]), np.array([1]), np.array([6], np.uint8)),
        (np.array([0]), np.array([1]), np.array(["finished"])),
        np.array([("x", "1", "read")]),
        np.array([("1", str(2**63), "read")]),
        [{"first": 0, "length": 1, "state": "read"}],
    ],
)
def test_broken_tables_are_refused_with_a_sentence(rows: object) -> None:
    with pytest.raises(BadSpan, match=r"\.$"):
        Coverage.from_rows(30, rows)  # type: ignore[arg-type]


def test_stored_columns_give_the_same_coverage_back() -> None:
    coverage = Coverage.from_rows(30, ROWS)
    assert Coverage.from_runs(30, coverage.starts, coverage.codes) == coverage


@pytest.mark.parametrize(("starts", "codes"), [([1], [0]), ([0, 0], [0, 1]), ([0, 30], [0, 1]), ([0], [6]), ([], [])])
def test_columns_that_are_no_runs_are_refused(starts: list[int], codes: list[int]) -> None:
    with pytest.raises(BadSpan):
        Coverage.from_runs(30, starts, codes)


@given(batches, batches)
def test_every_sector_has_exactly_one_state(
    first: list[tuple[int, int, str]], second: list[tuple[int, int, str]]
) -> None:
    coverage = Coverage.from_rows(TOTAL, first).overlay(second)
    assert "" not in picture_of(coverage)
    assert sum(coverage.counts().values()) == TOTAL
    assert all(coverage.codes[1:] != coverage.codes[:-1])


@given(batches, batches)
def test_laying_a_batch_twice_is_laying_it_once(
    first: list[tuple[int, int, str]], rows: list[tuple[int, int, str]]
) -> None:
    once = Coverage.from_rows(TOTAL, first).overlay(rows)
    assert once.overlay(rows) == once
    assert hash(once.overlay(rows)) == hash(once)


@given(batches, st.randoms())
def test_the_order_of_rows_in_a_batch_does_not_matter(rows: list[tuple[int, int, str]], chance: object) -> None:
    shuffled = list(rows)
    chance.shuffle(shuffled)  # type: ignore[attr-defined]
    assert Coverage.from_rows(TOTAL, shuffled) == Coverage.from_rows(TOTAL, rows)


@given(batches)
def test_a_coverage_is_rebuilt_from_its_own_spans(rows: list[tuple[int, int, str]]) -> None:
    coverage = Coverage.from_rows(TOTAL, rows)
    told = [(first, sectors, state) for state in STATES for first, sectors in coverage.spans(state)]
    assert Coverage.from_rows(TOTAL, told) == coverage


@given(batches, st.lists(st.tuples(st.integers(0, 40), st.integers(0, 20)), max_size=9), st.data())
def test_groups_of_spans_are_counted_like_their_spans_one_by_one(
    rows: list[tuple[int, int, str]], extents: list[tuple[int, int]], data: st.DataObject
) -> None:
    coverage = Coverage.from_rows(TOTAL, rows)
    cut = data.draw(st.integers(0, len(extents)))
    firsts, sectors = (np.array([extent[at] for extent in extents], np.int64) for at in (0, 1))
    found = coverage.count_groups("read", firsts, sectors, np.array([cut, 0, len(extents) - cut]))
    one_by_one = [coverage.count("read", *extent) for extent in extents]
    assert found.tolist() == [sum(one_by_one[:cut]), 0, sum(one_by_one[cut:])]
