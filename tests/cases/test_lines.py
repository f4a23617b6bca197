"""What is typed one thing a line."""

from __future__ import annotations

import pytest

from labcases.cases.lines import TooMany, counted_lines, wanted_lines


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("cable", ("cable", 1)),
        ("2 cables", ("cables", 2)),
        ("2x cable", ("cable", 2)),
        ("2 × cable", ("cable", 2)),
        ("screws x 12", ("screws", 12)),
        ("12V power supply", ("12V power supply", 1)),
        ("3.5 inch caddy", ("3.5 inch caddy", 1)),
        ("999 screws", ("screws", 999)),
    ],
)
def test_a_number_stands_before_the_words_or_behind_a_times_sign(typed, read):
    assert counted_lines(typed) == [read]


@pytest.mark.parametrize("typed", ["0 cables", "1000 screws", "cable x0"])
def test_a_count_that_nobody_lays_on_a_counter_is_refused(typed):
    with pytest.raises(TooMany, match="1 to 999"):
        counted_lines(typed)


def test_blank_lines_are_nothing():
    assert counted_lines("\n  \n") == []
    assert wanted_lines("\n - \n!\n") == []


def test_wishes_keep_their_order_and_their_urgency():
    lines = wanted_lines("! Thesis.tex\n2. Photographs 2019\nLetters!")
    assert [(line.what, line.urgent) for line in lines] == [
        ("Thesis.tex", True),
        ("Photographs 2019", False),
        ("Letters", True),
    ]
