"""Dumps by case and by family."""

from __future__ import annotations

from dataclasses import dataclass

from labcases.bench.models import Dump
from labcases.cases.models import Case, Item
from labcases.stock.models import Family


@dataclass(frozen=True)
class ItemDumps:
    """The dumps of one item, and of others of its family that may help."""

    item: Item
    dumps: list[Dump]
    in_family: int


def dumps_of(case: Case) -> list[ItemDumps]:
    """The docket's section Dumps, in three queries however many items."""
    items = list(case.items.select_related("thing", "case__thing", "family"))
    own: dict[int, list[Dump]] = {}
    for dump in Dump.objects.filter(item__case=case).select_related("by").order_by("pk"):
        own.setdefault(dump.item_id or 0, []).append(dump)
    families = [item.family_id for item in items if item.family_id]
    others: dict[int | None, int] = {}
    for family, whose in Dump.objects.filter(family__in=families).values_list("family", "item__case"):
        others[family] = others.get(family, 0) + (whose != case.pk)
    return [ItemDumps(item, own.get(item.pk, []), others.get(item.family_id, 0)) for item in items]


def dumps_of_family(family: Family) -> list[Dump]:
    """The card of a family: its dumps, newest first."""
    rows = Dump.objects.filter(family=family).select_related("by", "item__thing", "item__case__thing")
    return list(rows[:200])
