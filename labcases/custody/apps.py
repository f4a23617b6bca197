"""Starts the room: the ledger's triggers are put back after every migrate."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.apps import AppConfig
from django.db import connections
from django.db.models.signals import post_migrate

from labcases.custody import triggers


def _install(using: str, **_: Any) -> None:
    connection = connections[using]
    if triggers.TABLE in connection.introspection.table_names():
        triggers.install(connection)


class Custody(AppConfig):
    name = "labcases.custody"

    def ready(self) -> None:
        from labcases.core import sections
        from labcases.custody import (
            checks,  # noqa: F401 registers them
            queries,
            tasks,
        )
        from labcases.custody.breaks import actions as breaks
        from labcases.custody.breaks import queries as lines
        from labcases.custody.photos.actions import close_forgotten_batches
        from labcases.lab import timetable
        from labcases.paper import footer

        footer.provide(queries.key_for_papers)
        post_migrate.connect(_install, sender=self)
        timetable.add("record photos", every=timedelta(minutes=5), run=close_forgotten_batches)
        day = timedelta(days=1)
        timetable.add("verify the ledger", every=day, run=tasks.verify_ledger, lease=timedelta(hours=6))
        timetable.add("recheck lines of custody", every=day, run=breaks.recheck_lines, lease=timedelta(hours=6))
        timetable.add("keep the day's head of the ledger", every=day, run=tasks.keep_daily_head)
        sections.add_front(
            "custody",
            "where",
            title="Where everything is",
            order=10,
            template="custody/_where.html",
            context=queries.where_all_is,
        )
        sections.add_front(
            "custody",
            "proof",
            title="The ledger",
            order=20,
            template="custody/_standing.html",
            context=queries.standing_for,
        )
        sections.add_front(
            "custody",
            "lines",
            title="Lines of custody",
            order=15,
            template="custody/_lines.html",
            context=lines.lines_of_all,
        )
        sections.add("custody", title="Custody", order=90, template="custody/_section.html", context=queries.section_of)
