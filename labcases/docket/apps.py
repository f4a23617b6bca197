"""Starts the room: the bench sheet is the first part of the Bench."""

from __future__ import annotations

from django.apps import AppConfig

from labcases.core import sections


class Docket(AppConfig):
    name = "labcases.docket"

    def ready(self) -> None:
        from labcases.docket.sheet.queries import sheet_for

        sections.add_front(
            "bench",
            "sheet",
            title="Bench sheet",
            order=10,
            template="docket/_bench_sheet.html",
            context=sheet_for,
        )
