"""Starts the room."""

from __future__ import annotations

from django.apps import AppConfig


class Cases(AppConfig):
    name = "labcases.cases"

    def ready(self) -> None:
        from labcases.cases import facts, queries

        facts.provide("cases", queries.own_facts)
