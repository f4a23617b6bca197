"""Reads for bench computers and for the page that lists them."""

from __future__ import annotations

from typing import Any

from labcases.bench.reading.models import ItemCoverage, PlanVersion
from labcases.bench.reading.queries.ahead import COLUMNS, lines_of, rows_of
from labcases.cases.models import Item


def newest_plan(item: Item) -> PlanVersion | None:
    return PlanVersion.objects.filter(item=item).order_by("number").last()


def is_worked_out(item: Item) -> bool:
    """Whether the item's coverage holds everything that was uploaded."""
    state = ItemCoverage.objects.filter(item=item).first()
    return state is not None and state.up_to_date


def spans_of(plan: PlanVersion) -> list[dict[str, Any]]:
    """The spans of a plan in its order, by the names of its columns."""
    return [dict(zip(COLUMNS, row, strict=True)) for row in rows_of(lines_of(plan))]
