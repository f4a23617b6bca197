"""Plans: what to read next, kept in versions."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import numpy as np
from django.db.models import Max
from django.utils import timezone

from labcases.bench.plan import Plan
from labcases.bench.reading.models import Derivation, PlanVersion
from labcases.bench.stored import pack_columns
from labcases.cases.models import Item
from labcases.core import vault
from labcases.core.actions import writing
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right

COLUMNS = ("order", "first", "sectors", "direction", "heads", "step", "part", "name", "why")
NUMBERS = frozenset(("order", "first", "sectors", "step"))


def keep_plan(
    *, item: Item, plan: Plan, asked: Mapping[str, Any], derivation: Derivation | None, by: Actor, happened: datetime
) -> PlanVersion:
    """Keep a plan as the item's next version; it is written into the vault before the transaction begins."""
    by.must(Right.EXAMINE)
    made = PlanVersion(item=item, derivation=derivation, asked=dict(asked), **_lines(plan), **Entry.stamp(by, happened))
    return _keep(made, plan.pass_number, by, happened)


def keep_replan(*, last: PlanVersion, plan: Plan, derivation: Derivation) -> PlanVersion | None:
    """The same question answered anew from what has come in since: the worker's, and no event, since nobody asked.

    None when somebody made a plan in between.
    """
    made = PlanVersion(
        item=last.item, derivation=derivation, asked=last.asked, number=last.number + 1, **_lines(plan),
        **Entry.stamp(Actor.worker(), timezone.now()),
    )  # fmt: skip
    with writing():
        if PlanVersion.objects.filter(item=last.item, number__gt=last.number).exists():
            return None
        made.save()
    return made


def _lines(plan: Plan) -> dict[str, Any]:
    """A plan as the fields of its row; its lines are written into the vault."""
    lines = plan.table()[1:]
    columns = {name: _column([line[at] for line in lines], name in NUMBERS) for at, name in enumerate(COLUMNS)}
    return {
        "kept_back": dict(plan.kept_back),
        "file": vault.put(pack_columns(columns)),
        "spans": len(plan),
        "sectors": int(plan.sectors.sum()),
    }


def _column(values: list[Any], numbers: bool) -> Any:
    return np.array(values, np.int64) if numbers else values


@recorded
def _keep(made: PlanVersion, pass_number: int, by: Actor, happened: datetime) -> PlanVersion:
    last = PlanVersion.objects.filter(item=made.item).aggregate(last=Max("number"))["last"] or 0
    made.number = last + 1
    made.save()
    said = f"plan {made.number}, pass {pass_number}, {made.spans:,} spans, {made.sectors:,} sectors"
    item = made.item
    record("reading-planned", thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)
    return made
