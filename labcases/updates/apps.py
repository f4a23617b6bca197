"""Starts the room."""

from __future__ import annotations

from datetime import timedelta

from django.apps import AppConfig

SECTION, FRONT = "updates/_section_messages.html", "updates/_unsent.html"


class Updates(AppConfig):
    name = "labcases.updates"

    def ready(self) -> None:
        from labcases.cases import facts
        from labcases.core import sections
        from labcases.lab import timetable
        from labcases.updates import queries, tasks
        from labcases.updates.witnesses import tasks as witnesses

        facts.provide("updates", queries.facts)
        sections.add("messages", title="Messages", order=80, template=SECTION, context=queries.messages_of)
        for page, order in (("office", 20), ("day-sheet", 40)):
            sections.add_front(
                page, "unsent", title="Unsent updates", order=order, template=FRONT, context=queries.unsent
            )
        sections.add_front(
            "office",
            "quiet",
            title="Nothing heard for a week",
            order=30,
            template="updates/_quiet.html",
            context=queries.quiet,
        )
        timetable.add("send the outbox", every=timedelta(seconds=5), run=tasks.send_waiting)
        timetable.add("tell witnesses the ledger's head", every=timedelta(days=1), run=witnesses.tell_witnesses)
        timetable.add("send heads to witnesses", every=timedelta(minutes=1), run=witnesses.send_heads)
