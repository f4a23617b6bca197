"""Starts the room."""

from __future__ import annotations

from django.apps import AppConfig


class Stock(AppConfig):
    name = "labcases.stock"

    def ready(self) -> None:
        from labcases.cases import facts, families
        from labcases.core import sections
        from labcases.stock.models import FamilyAlias
        from labcases.stock.queries import front, served

        facts.provide("stock", served.facts)
        families.found_by(FamilyAlias.family_of)
        sections.add(
            "parts",
            title="Parts & clones",
            order=40,
            template="stock/_section_parts.html",
            context=served.parts_of,
        )
        for order, (key, title, context) in enumerate(
            (
                ("waiting", "Patients wait for", front.waiting),
                ("parts", "Parts", front.parts_there),
                ("media", "Media", front.media_there),
            ),
            start=1,
        ):
            template = f"stock/_front_{key}.html"
            sections.add_front("stockroom", key, title=title, order=10 * order, template=template, context=context)
