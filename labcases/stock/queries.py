"""Reads of the stockroom."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.db.models import Count

from labcases.cases.models import Item
from labcases.stock.models import Destination, DestinationAssignment, PartAssignment


def facts(items: Sequence[Item]) -> Mapping[int, Mapping[str, Any]]:
    """This room's facts about items: what serves each of them now."""
    keys = [item.pk for item in items]
    # A part that was used and judged has served; only what was released unused does not count.
    parts = PartAssignment.objects.filter(item__in=keys).exclude(ended__isnull=False, outcome="")
    clones = DestinationAssignment.objects.filter(item__in=keys, ended=None, destination__use=Destination.Use.CLONE)
    served = {name: _counts(rows) for name, rows in (("donor_parts", parts), ("destinations", clones))}
    return {pk: {name: counts.get(pk, 0) for name, counts in served.items()} for pk in keys}


def _counts(rows: Any) -> dict[int, int]:
    return dict(rows.order_by().values_list("item").annotate(Count("pk")))
