"""Starts the room: its facts, its sections of the docket, its parts of the Counter."""

from __future__ import annotations

from django.apps import AppConfig

from labcases.core import sections
from labcases.core.sections import Context


class Cases(AppConfig):
    name = "labcases.cases"

    def ready(self) -> None:
        from datetime import timedelta
        from functools import partial

        from labcases.cases import facts, queries, tasks
        from labcases.cases.readings import queries as readings
        from labcases.cases.records import apps as records
        from labcases.cases.secrecy import queries as secrecy
        from labcases.lab import timetable

        timetable.add("sweep draft photos", every=timedelta(days=1), run=tasks.sweep_draft_photos)
        records.register()
        facts.provide("cases", queries.own_facts)
        facts.provide("readings", readings.facts)
        docket: dict[str, tuple[str, int, Context]] = {
            "items": ("Items", 10, queries.items_section),
            "wanted": ("Story & wanted", 20, queries.wanted_section),
            "locks": ("Locks", 25, secrecy.locks_section),
        }
        counter: dict[str, tuple[str, int, Context]] = {
            "start": ("Start", 10, queries.front_start),
            "unfinished": ("To finish", 20, queries.front_unfinished),
            "today": ("Came in today", 30, queries.front_today),
            "expected": ("By post", 40, queries.front_expected),
            "enquiries": ("Enquiries", 50, queries.front_enquiries),
        }
        for key, (title, order, context) in docket.items():
            sections.add(key, title=title, order=order, template=f"cases/_section_{key}.html", context=context)
        for key, (title, order, context) in counter.items():
            template = f"cases/_front_{key}.html"
            sections.add_front("counter", key, title=title, order=order, template=template, context=context)
        on_paper: dict[str, tuple[str, int, Context]] = {
            "expected": ("By post", 20, partial(queries.front_expected, shown=queries.ON_PAPER)),
            "unfinished": ("To finish", 30, partial(queries.front_unfinished, shown=queries.ON_PAPER)),
        }
        for key, (title, order, context) in on_paper.items():
            template = f"cases/_front_{key}.html"
            sections.add_front("day-sheet", key, title=title, order=order, template=template, context=context)
