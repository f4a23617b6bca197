from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.bench.forecast import BadReading, Interval, Reading, forecast, theil_sen

HOUR = 3_600


def steady(count: int, every: float = 600, sectors: int = 60_000, wanted: int = 0, **fields: int) -> list[Reading]:
    return [Reading(at=every * n, sectors=sectors * n, wanted_bytes=wanted * n, **fields) for n in range(count)]


def test_a_steady_rate_gives_the_time_that_division_gives() -> None:
    told = forecast(steady(12), {(1, None): 3_600_000})
    assert told.current is not None
    assert told.current.sectors_an_hour is not None
    assert told.current.sectors_an_hour.likely == pytest.approx(360_000)
    assert told.time_left == pytest.approx((10 * HOUR,) * 3)
    assert told.verdict == "yes"


def test_one_wild_reading_hardly_moves_the_rate() -> None:
    readings = steady(21)
    readings[20] = Reading(at=20 * 600, sectors=60_000 * 20 + 5_000_000)
    told = forecast(readings, {(1, None): 3_600_000})
    assert told.current is not None
    assert told.current.sectors_an_hour is not None
    assert told.current.sectors_an_hour.likely == pytest.approx(360_000, rel=0.05)


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        ([], "Too early to tell; there are no readings yet."),
        (steady(1), "Pass 1: too early to tell; 1 reading over 1 minute."),
        (steady(4), "Pass 1: too early to tell; 4 readings over 30 minutes."),
        (steady(20, every=30), "Pass 1: too early to tell; 20 readings over 10 minutes."),
    ],
)
def test_too_little_is_too_early_to_tell(readings: list[Reading], words: str) -> None:
    told = forecast(readings, {(1, None): 100})
    assert (told.verdict, told.sentence, told.time_left) == ("too early to tell", words, None)
    assert told.unknown == ("Pass 1",)


def test_a_new_pass_is_too_early_to_tell_however_long_the_last_one_was() -> None:
    later = [Reading(at=9_000, sectors=0, pass_number=2)]
    assert forecast([*steady(12), *later], {(2, None): 100}).verdict == "too early to tell"


def test_no_progress_has_no_end_and_is_not_worth_it() -> None:
    told = forecast(steady(12, sectors=0), {(1, None): 100})
    assert (told.verdict, told.time_left) == ("no", Interval(None, None, None))
    assert told.sentence == (
        "Pass 1: 0 sectors an hour; 100 sectors left, no end in sight at this rate. Hardly worth going on."
    )


def test_nothing_left_is_said_so() -> None:
    told = forecast(steady(12), {})
    assert (told.verdict, told.sentence) == ("no", "Pass 1: nothing is left to read.")


def test_a_pace_that_slows_down_is_held_by_the_interval() -> None:
    fast, slow = steady(31), [Reading(at=18_000 + 600 * n, sectors=1_800_000 + 6_000 * n) for n in range(1, 16)]
    told = forecast(fast + slow, {(1, None): 360_000})
    assert told.time_left is not None
    assert told.time_left.high == pytest.approx(10 * HOUR)
    assert told.time_left.low is not None
    assert told.time_left.low < 2 * HOUR


def test_what_is_wanted_decides_if_anything_is() -> None:
    readings = steady(12, sectors=60_000, wanted=1_000)
    assert forecast(readings, {(1, None): 10**6}, wanted_missing=600_000).verdict == "yes"
    told = forecast(readings, {(1, None): 10**6}, wanted_missing=2 * 10**9)
    assert told.verdict == "no"
    assert "6.0 kB an hour of the 2.0 GB wanted and missing" in told.sentence


def test_the_threshold_is_the_labs() -> None:
    readings = steady(12, sectors=10)
    assert forecast(readings, {(1, None): 10**6}).verdict == "no"
    assert forecast(readings, {(1, None): 10**6}, least_share=0.00001).verdict == "yes"


def test_time_away_on_another_head_does_not_count() -> None:
    first = [Reading(at=600 * n, sectors=60_000 * n, head=0) for n in range(6)]
    other = [Reading(at=3_600 + 600 * n, sectors=600 * n, head=1) for n in range(6)]
    again = [Reading(at=7_200 + 600 * n, sectors=300_000 + 60_000 * n, head=0) for n in range(6)]
    told = forecast([*first, *other, *again], {(1, 0): 360_000, (1, 1): 3_600})
    rates = {pace.key: pace.sectors_an_hour for pace in told.paces}
    assert {key: rate and rate.likely for key, rate in rates.items()} == pytest.approx({(1, 0): 360_000, (1, 1): 3_600})
    assert told.time_left == pytest.approx((2 * HOUR,) * 3)


def test_a_night_off_is_a_pause_and_is_said_so() -> None:
    morning = [Reading(at=90_000 + 600 * n, sectors=660_000 + 60_000 * n) for n in range(12)]
    told = forecast([*steady(12), *morning], {(1, None): 360_000})
    assert told.time_left == pytest.approx((HOUR,) * 3)
    assert told.notes == ("Row 13: nothing was heard for 23 hours; taken as a pause.",)


def test_a_count_that_goes_back_begins_anew_and_is_said_so() -> None:
    after = [Reading(at=7_200 + 600 * n, sectors=100_000 + 60_000 * n) for n in range(12)]
    told = forecast([*steady(12), *after], {(1, None): 360_000})
    assert told.time_left == pytest.approx((HOUR,) * 3)
    assert told.notes == ("Row 13: the count went back from 660,000 to 100,000 sectors; begun anew from there.",)


def test_readings_out_of_order_are_put_in_order() -> None:
    readings = steady(12)
    told = forecast([*readings[:5], readings[6], readings[5], *readings[7:]], {(1, None): 360_000})
    assert told.time_left == pytest.approx((HOUR,) * 3)
    assert told.notes == ("Row 7 is earlier than row 6; put in order of time.",)


@pytest.mark.parametrize(
    "bad", [Reading(math.nan, 5), Reading(math.inf, 5), Reading(5, -1), Reading(5, 1, wanted_bytes=-1)]
)
def test_a_reading_that_cannot_be_is_refused_with_its_row(bad: Reading) -> None:
    with pytest.raises(BadReading, match=r"^Row 2: ") as refused:
        forecast([Reading(0, 0), bad], {})
    assert refused.value.row == 2


def test_heads_never_read_are_named_as_unknown() -> None:
    told = forecast(steady(12, head=0), {(1, 0): 360_000, (1, 3): 1_000})
    assert told.unknown == ("Pass 1, head 3",)
    assert told.time_left == pytest.approx((HOUR,) * 3)


def test_the_sentence_gives_the_interval() -> None:
    readings = [Reading(at=600 * n, sectors=60_000 * n + (n % 3) * 9_000, pass_number=2, head=1) for n in range(30)]
    assert forecast(readings, {(2, 1): 3_600_000}).sentence.startswith("Pass 2, head 1: 360,")
    assert " to " in forecast(readings, {(2, 1): 3_600_000}).sentence


def test_thousands_of_readings_are_thinned_and_the_last_is_kept() -> None:
    told = forecast(steady(5_000, every=60, sectors=6_000), {(1, None): 360_000})
    assert told.time_left == pytest.approx((HOUR,) * 3)


@pytest.mark.parametrize(("x", "y"), [([], []), ([1], [1]), ([3, 3], [1, 2]), ([1, 2], [1])])
def test_a_slope_needs_two_different_times(x: list[float], y: list[float]) -> None:
    with pytest.raises(ValueError, match=r"needed|needs"):
        theil_sen(x, y)


@given(st.lists(st.tuples(st.integers(1, 4_000), st.integers(0, 10**9)), min_size=5, max_size=25))
def test_the_interval_holds_the_likely_rate_and_never_turns_round(steps: list[tuple[int, int]]) -> None:
    readings, at, sectors = [], 0, 0
    for seconds, gain in steps:
        at, sectors = at + seconds, sectors + gain
        readings.append(Reading(at, sectors))
    pace = forecast(readings, {(1, None): 10**6}).current
    assert pace is not None
    if pace.sectors_an_hour is not None and pace.time_left is not None:
        assert 0 <= pace.sectors_an_hour.low <= pace.sectors_an_hour.likely <= pace.sectors_an_hour.high
        known = [end for end in pace.time_left if end is not None]
        assert known == sorted(known)
