"""Starts the room."""

from __future__ import annotations

from django.apps import AppConfig


class Stock(AppConfig):
    name = "labcases.stock"

    def ready(self) -> None:
        from labcases.cases import facts, families
        from labcases.stock import queries
        from labcases.stock.models import FamilyAlias

        facts.provide("stock", queries.facts)
        families.found_by(FamilyAlias.family_of)
