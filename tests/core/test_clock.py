from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.core import clock
from labcases.core.clock import NoTimestamp

NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
MOMENTS = st.datetimes(datetime(2, 1, 1), datetime(9998, 1, 1), timezones=st.timezones())


@pytest.mark.parametrize(
    ("back", "said"),
    [
        (timedelta(seconds=40), "just now"),
        (timedelta(minutes=1), "1 minute ago"),
        (timedelta(minutes=89), "89 minutes ago"),
        (timedelta(hours=3), "3 hours ago"),
        (-timedelta(minutes=25), "in 25 minutes"),
        (timedelta(hours=14), "yesterday"),
        (timedelta(days=3), "3 days ago"),
        (-timedelta(days=1), "tomorrow"),
        (-timedelta(days=9), "in 9 days"),
        (timedelta(days=60), "60 days ago"),
        (timedelta(days=150), "5 months ago"),
        (timedelta(days=800), "2 years ago"),
    ],
)
def test_how_long_ago_is_said_in_words(back: timedelta, said: str) -> None:
    assert clock.ago(NOW - back, NOW) == said


def test_a_few_hours_over_midnight_are_hours_not_yesterday() -> None:
    assert (
        clock.ago(datetime(2026, 11, 24, 23, 0, tzinfo=UTC), datetime(2026, 11, 25, 2, 0, tzinfo=UTC)) == "3 hours ago"
    )


def test_a_day_is_written_without_its_year_only_in_that_year() -> None:
    assert clock.short_day(date(2026, 12, 4), NOW.date()) == "4 Dec"
    assert clock.short_day(date(2027, 1, 4), NOW.date()) == "4 Jan 2027"
    assert clock.in_full(NOW.astimezone(ZoneInfo("Europe/Berlin"))) == "Wed 25 Nov 2026, 13:00 CET"


@given(MOMENTS)
def test_a_moment_is_read_back_from_its_record(when: datetime) -> None:
    assert clock.read_rfc3339(clock.rfc3339(when)) == when.astimezone(UTC)


@given(MOMENTS, MOMENTS)
def test_records_sort_as_their_moments_do(one: datetime, other: datetime) -> None:
    assert (clock.rfc3339(one) < clock.rfc3339(other)) == (one.astimezone(UTC) < other.astimezone(UTC))


def test_a_moment_without_a_zone_is_not_recorded() -> None:
    with pytest.raises(ValueError, match="no zone"):
        clock.rfc3339(datetime(2026, 11, 25, 12, 0))


def test_digits_beyond_a_microsecond_are_dropped() -> None:
    assert clock.read_rfc3339("2026-11-25T12:00:00.1234567Z").microsecond == 123456


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("", "no moment like"),
        ("2026-11-25T12:00:00", "with its offset"),
        ("2026-11-25 12:00:00Z", "no moment like"),
        ("2026-11-25T12:00:00Z\n", "no moment like"),
        ("2026-02-30T12:00:00Z", "no moment of the calendar"),
        ("0001-01-01T00:00:00+23:59", "no moment of the calendar"),
        ("2026-11-25T12:00:60Z", "has 60 seconds"),
    ],
)
def test_what_is_no_moment_is_refused_with_a_sentence(text: str, named: str) -> None:
    with pytest.raises(NoTimestamp, match=named):
        clock.read_rfc3339(text)


def test_an_offset_counts_and_the_answer_is_in_utc() -> None:
    read = clock.read_rfc3339("2026-11-25T02:30:00-03:30")
    assert read == datetime(2026, 11, 25, 2, 30, tzinfo=timezone(-timedelta(hours=3, minutes=30)))
    assert read.utcoffset() == timedelta(0)
