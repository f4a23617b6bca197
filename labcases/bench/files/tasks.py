"""What the worker does for lists of files: reads those that wait, judges those that lag behind, clears away."""

from __future__ import annotations

from datetime import timedelta

from labcases.bench.files.actions import derive_waiting, read_waiting, tidy
from labcases.lab import timetable


def put_on_the_timetable() -> None:
    timetable.add("read file lists", every=timedelta(minutes=1), run=read_waiting, lease=timedelta(minutes=30))
    timetable.add("judge files", every=timedelta(minutes=1), run=derive_waiting, lease=timedelta(minutes=30))
    timetable.add("clear away overtaken states of files", every=timedelta(hours=1), run=tidy)
