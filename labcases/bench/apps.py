"""Starts the room."""

from __future__ import annotations

from django.apps import AppConfig


class Bench(AppConfig):
    name = "labcases.bench"

    def ready(self) -> None:
        from labcases.bench import queries
        from labcases.cases import facts

        facts.provide("bench", queries.facts)
