"""Clock text: how long ago, how long yet, a moment written out with its zone, and RFC 3339 for records.

>>> from datetime import datetime, timezone
>>> noon = datetime(2026, 11, 25, 12, 0, tzinfo=timezone.utc)
>>> ago(datetime(2026, 11, 25, 9, 14, tzinfo=timezone.utc), noon), ago(datetime(2026, 12, 4, tzinfo=timezone.utc), noon)
('3 hours ago', 'in 9 days')
>>> in_full(noon)
'Wed 25 Nov 2026, 12:00 UTC'
>>> rfc3339(noon), read_rfc3339("2026-11-25T13:00:00+01:00") == noon
('2026-11-25T12:00:00.000000Z', True)
"""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta, timezone

# Own names: strftime's follow the locale of the process, papers and pages must not.
_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

_RFC3339 = re.compile(
    r"(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d):(\d\d)(?:\.(\d+))?(?:Z|([+-])([01]\d|2[0-3]):([0-5]\d))",
    re.ASCII | re.IGNORECASE,
)


class NoTimestamp(ValueError):
    """A text is no moment after RFC 3339; ``str(error)`` is a sentence."""


def short_day(day: date, today: date) -> str:
    """``4 Dec``, with the year when it is another than today's."""
    text = f"{day.day} {_MONTHS[day.month - 1]}"
    return text if day.year == today.year else f"{text} {day.year}"


def long_day(day: date) -> str:
    """``Wed 25 Nov 2026``."""
    return f"{_DAYS[day.weekday()]} {day.day} {_MONTHS[day.month - 1]} {day.year}"


def in_full(when: datetime) -> str:
    """An aware moment in its own zone, with the zone's name: ``Wed 25 Nov 2026, 12:00 UTC``."""
    return f"{long_day(when)}, {when:%H:%M} {when.tzname() or ''}".rstrip()


def ago(when: datetime, now: datetime) -> str:
    """How far a moment lies back or ahead of now. Both aware, in the zone whose midnight counts.

    Within the same day, and within six hours over midnight, hours and minutes; then calendar days up to sixty.
    """
    seconds = (now - when).total_seconds()
    days = (now.date() - when.date()).days
    if abs(seconds) < 60:
        return "just now"
    if days == 0 or abs(seconds) < 6 * 3600:
        return _said(*_hours_or_minutes(int(abs(seconds))), past=seconds > 0)
    return days_ago(when.date(), now.date())


def days_ago(day: date, today: date) -> str:
    """How many calendar days a day lies back or ahead: ``today``, ``yesterday``, ``in 9 days``, ``5 months ago``."""
    days = (today - day).days
    if days in (-1, 0, 1):
        return ("tomorrow", "today", "yesterday")[days + 1]
    count = abs(days)
    if count <= 60:
        return _said(count, "day", past=days > 0)
    months = abs((today.year - day.year) * 12 + today.month - day.month)
    return _said(months, "month", past=days > 0) if months < 24 else _said(months // 12, "year", past=days > 0)


def _hours_or_minutes(seconds: int) -> tuple[int, str]:
    return (seconds // 60, "minute") if seconds < 90 * 60 else (round(seconds / 3600), "hour")


def _said(count: int, unit: str, *, past: bool) -> str:
    words = f"{count:,} {unit}{'' if count == 1 else 's'}"
    return f"{words} ago" if past else f"in {words}"


def rfc3339(when: datetime) -> str:
    """An aware moment as records hold it, RFC 3339 in UTC to the microsecond: one spelling for each moment."""
    if when.tzinfo is None:
        raise ValueError(f"{when} has no zone, so it is no moment yet.")
    return when.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


def read_rfc3339(text: str) -> datetime:
    """The moment of an RFC 3339 text, in UTC; what is finer than a microsecond is dropped.

    A leap second is the moment that follows it, since no clock of ours has one. Raises NoTimestamp, also where
    the offset is missing: such a text is a reading of some clock and no moment.
    """
    match = _RFC3339.fullmatch(text)
    if not match:
        raise NoTimestamp(f"“{text[:40]}” is no moment like 2026-11-25T12:00:00Z, with its offset from UTC.")
    year, month, day, hour, minute, second = (int(group) for group in match.groups()[:6])
    fraction, sign, offset_hours, offset_minutes = match.groups()[6:]
    offset = timedelta(hours=int(offset_hours or 0), minutes=int(offset_minutes or 0)) * (-1 if sign == "-" else 1)
    micros = int((fraction or "0")[:6].ljust(6, "0"))
    try:
        local = datetime(year, month, day, hour, minute, min(second, 59), micros, tzinfo=timezone(offset))
        utc = local.astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise NoTimestamp(f"“{text[:40]}” is no moment of the calendar: {error}.") from None
    if second < 60:
        return utc
    if second > 60 or (utc.hour, utc.minute) != (23, 59):
        raise NoTimestamp(f"“{text[:40]}” has {second} seconds; only the last minute of a day in UTC can have 60.")
    return utc.replace(microsecond=0) + timedelta(seconds=1)
