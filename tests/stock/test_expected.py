"""Expected success: what was recorded, no more sure than the count allows."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.stock.expected import BANDS, History, Outcome, Use, band_of, expected_success
from labcases.stock.rules import PartKind

HEADS = PartKind.HEAD_STACK
COUNTS = st.integers(0, 400)


def test_no_history_says_so_and_gives_no_figure():
    nothing = expected_success()
    assert (nothing.success, nothing.has_history, nothing.count) == (None, False, 0)
    assert nothing.sentence == "No history yet."


def test_one_success_is_no_certainty():
    once = expected_success(worked=1)
    assert once.mean == pytest.approx(2 / 3)
    assert once.high < 1


def test_partly_counts_half_for_each_side():
    assert expected_success(partly=2) == expected_success(partly=2)
    assert expected_success(partly=2).mean == pytest.approx(0.5)
    assert expected_success(worked=3, partly=2).mean == expected_success(worked=4, failed=1).mean


def test_the_sentence_names_the_interval_and_the_counts():
    assert expected_success(worked=7, partly=1, failed=3).sentence == (
        "Expect about 65 %, between 43 % and 85 % (11 recorded: 7 worked, 1 partly, 3 failed)."
    )


@given(COUNTS, COUNTS, COUNTS)
def test_the_mean_lies_inside_its_interval(worked, partly, failed):
    expected = expected_success(worked=worked, partly=partly, failed=failed)
    assert 0 < expected.low < expected.mean < expected.high < 1


@given(COUNTS, COUNTS)
def test_one_more_success_raises_and_one_more_failure_lowers_the_expectation(worked, failed):
    now = expected_success(worked=worked, failed=failed).mean
    assert expected_success(worked=worked + 1, failed=failed).mean > now
    assert expected_success(worked=worked, failed=failed + 1).mean < now


@given(st.integers(0, 100))
def test_every_score_belongs_to_one_band(score):
    assert [band.low <= score <= band.high for band in BANDS].count(True) == 1
    assert band_of(score) in BANDS


@pytest.mark.parametrize("score", [-1, 101])
def test_a_score_outside_its_range_is_refused(score):
    with pytest.raises(ValueError, match="from 0 to 100"):
        band_of(score)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [({"worked": -1}, "counted from 0"), ({"prior": (0, 1)}, "above 0"), ({"inside": 1}, "between 0 and 1")],
)
def test_counts_that_cannot_be_are_refused(wrong, words):
    with pytest.raises(ValueError, match=words):
        expected_success(**wrong)


def test_history_is_kept_apart_by_family_part_and_score():
    history = History.of(
        [
            Use("Alder", HEADS, 92, Outcome.WORKED),
            Use("alder ", HEADS, 97, Outcome.FAILED),
            Use("Alder", HEADS, 55, Outcome.FAILED),
            Use("Alder", PartKind.CONTROLLER_BOARD, 92, Outcome.WORKED),
            Use("Birch", HEADS, 92, Outcome.PARTLY),
        ]
    )
    found = history.expected("Alder", HEADS, band_of(90))
    assert (found.worked, found.partly, found.failed) == (1, 0, 1)
    assert history.success("Alder", HEADS, band_of(60)) == pytest.approx(1 / 3)


@pytest.mark.parametrize("family", ["Cedar", None, ""])
def test_a_family_without_records_has_no_history(family):
    assert History.of([]).success(family, HEADS, band_of(90)) is None
