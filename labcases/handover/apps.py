"""Starts the room."""

from __future__ import annotations

from django.apps import AppConfig


class Handover(AppConfig):
    name = "labcases.handover"

    def ready(self) -> None:
        from labcases.core import sections
        from labcases.handover import queries

        sections.add(
            "handover",
            title="Handed over",
            order=95,
            template="handover/_section.html",
            context=queries.section_of,
        )
        for page, order in (("counter", 25), ("day-sheet", 10)):
            sections.add_front(
                page,
                "due-to-collect",
                title="Due to collect",
                order=order,
                template="handover/_due_to_collect.html",
                context=queries.due_to_collect,
            )
