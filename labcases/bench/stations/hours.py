"""Hours of machines and hours of people, kept apart.

>>> in_hours(timedelta(hours=30, minutes=5)), in_hours(timedelta(minutes=7)), in_hours(timedelta(seconds=59))
('30 h 05 min', '7 min', '0 min')
"""

from __future__ import annotations

from datetime import timedelta


def in_hours(time: timedelta) -> str:
    """Whole minutes, floored: what has not run a minute says 0 min."""
    minutes = int(time.total_seconds()) // 60
    return f"{minutes // 60} h {minutes % 60:02d} min" if minutes >= 60 else f"{minutes} min"
