"""Starts the room: its facts, its section of the docket, its parts of the Stockroom and of a family's card."""

from __future__ import annotations

from typing import Any

from django.apps import AppConfig
from django.db import connections
from django.db.models.signals import post_migrate, pre_migrate

from labcases.core import sections
from labcases.core.sections import Context
from labcases.stock import triggers


def _install(using: str, **_: Any) -> None:
    connection = connections[using]
    if triggers.TABLE in connection.introspection.table_names():
        triggers.install(connection)


def _lift(using: str, **_: Any) -> None:
    """A column that a trigger reads cannot be altered on PostgreSQL; they are put back when all is migrated."""
    connection = connections[using]
    if triggers.TABLE in connection.introspection.table_names():
        triggers.drop(connection)


class Stock(AppConfig):
    name = "labcases.stock"

    def ready(self) -> None:
        from labcases.cases import facts, families
        from labcases.stock.imports import apps as imports
        from labcases.stock.models import FamilyAlias
        from labcases.stock.pools import queries as pools
        from labcases.stock.queries import buying, card, front, served
        from labcases.stock.takes import queries as takes
        from labcases.stock.wiping import queries as wiping

        pre_migrate.connect(_lift, sender=self)
        post_migrate.connect(_install, sender=self)
        imports.register()
        facts.provide("stock", served.facts)
        families.found_by(FamilyAlias.family_of)
        families.hinted_by(card.hints)
        sections.add(
            "parts",
            title="Parts & clones",
            order=40,
            template="stock/_section_parts.html",
            context=served.parts_of,
        )
        stockroom: dict[str, tuple[str, int, Context]] = {
            "sought": ("Find", 5, lambda request: None),
            "waiting": ("Patients wait for", 10, front.waiting),
            "short": ("To buy", 15, buying.short),
            "parts": ("Parts", 20, front.parts_there),
            "media": ("Media", 30, front.media_there),
            "wipes": ("Wipes", 40, wiping.going_on),
            "pools": ("Storage pools", 50, pools.pools_there),
            "takes": ("Stocktakes", 60, takes.going_on),
        }
        family: dict[str, tuple[str, int, Context]] = {
            "worked": ("What worked", 10, card.worked),
            "cases": ("Cases", 20, card.cases_of),
            "donors": ("Donors", 30, card.donors_of),
        }
        for key, (title, order, context) in stockroom.items():
            template = f"stock/_front_{key}.html"
            sections.add_front("stockroom", key, title=title, order=order, template=template, context=context)
        for key, (title, order, context) in family.items():
            template = f"stock/_card_{key}.html"
            sections.add_card("family", key, title=title, order=order, template=template, context=context)
