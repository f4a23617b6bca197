"""What the worker does for reading: coverages that lag behind, and those that were overtaken."""

from __future__ import annotations

from datetime import timedelta

from labcases.bench.reading.actions import derive_waiting, tidy
from labcases.lab import timetable


def put_on_the_timetable() -> None:
    timetable.add("work out coverages", every=timedelta(minutes=1), run=derive_waiting, lease=timedelta(minutes=15))
    timetable.add("clear away overtaken coverages", every=timedelta(hours=1), run=tidy)
