"""Starts the room: the worker's part in it."""

from __future__ import annotations

from datetime import timedelta

from django.apps import AppConfig

from labcases.custody.firsts.beginning import say_of_batches
from labcases.lab import timetable


class Imports(AppConfig):
    name = "labcases.imports"

    def ready(self) -> None:
        from labcases.imports import queries, tasks

        # Reading a workbook of a million rows is one long step; a worker that died in it is replaced after this time.
        timetable.add("imports", every=timedelta(seconds=1), run=tasks.go_on, lease=timedelta(minutes=3))
        say_of_batches(queries.beginning_of)
        timetable.add("forget files of old imports", every=timedelta(days=1), run=tasks.sweep)
