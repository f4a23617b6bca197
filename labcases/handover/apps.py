"""Starts the room."""

from __future__ import annotations

from django.apps import AppConfig


class Handover(AppConfig):
    name = "labcases.handover"

    def ready(self) -> None:
        from labcases.core import sections
        from labcases.handover import queries
        from labcases.handover.parcels.queries import on_their_way

        sections.add(
            "handover",
            title="Handed over",
            order=95,
            template="handover/_section.html",
            context=queries.section_of,
        )
        sections.add_front(
            "counter",
            "on-their-way",
            title="On their way",
            order=45,
            template="handover/_on_their_way.html",
            context=on_their_way,
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
