"""Starts the room."""

from __future__ import annotations

from django.apps import AppConfig


class Office(AppConfig):
    name = "labcases.office"

    def ready(self) -> None:
        from labcases.cases import facts
        from labcases.office import queries

        facts.provide("office", queries.facts)
