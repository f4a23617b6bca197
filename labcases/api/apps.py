"""Starts the room. Nothing here loads the interface itself: it takes a second, and only who calls it waits."""

from __future__ import annotations

from datetime import timedelta

from django.apps import AppConfig


class Api(AppConfig):
    name = "labcases.api"

    def ready(self) -> None:
        from labcases.api import actions
        from labcases.lab import timetable

        timetable.add("clear away sent parts", every=timedelta(hours=1), run=actions.tidy)
