"""Starts the room."""

from __future__ import annotations

from django.apps import AppConfig


class Office(AppConfig):
    name = "labcases.office"

    def ready(self) -> None:
        from labcases.cases import facts
        from labcases.core import sections
        from labcases.office import queries

        facts.provide("office", queries.facts)
        sections.add(
            "quotes", title="Quotes & money", order=70, template="office/_section_money.html", context=queries.money_of
        )
        sections.add_front(
            "office", "waiting", title="Waiting", order=10, template="office/_waiting.html", context=queries.waiting
        )
