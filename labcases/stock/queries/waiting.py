"""Which patients wait for a part from stock, in the order they came."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from labcases.cases.facts import Facts
from labcases.cases.models import Item
from labcases.cases.queries import facts_for
from labcases.cases.stages import Stage
from labcases.stock.queries.inside import with_families
from labcases.stock.rules import PartKind

AT_WORK = (Stage.EXAMINED, Stage.QUOTED, Stage.AUTHORISED, Stage.IN_WORK)


def named_part(words: str) -> PartKind | None:
    """The kind of part that findings ask for in words, if they name one."""
    asked = words.casefold()
    return next((kind for kind in PartKind if kind.casefold() in asked), None)


def at_work() -> list[Item]:
    """Open patients that are examined and not yet done, the first come first."""
    items = Item.objects.with_context().filter(case__closed=None, stage__in=AT_WORK)
    return list(items.order_by("case_id", "number"))


@dataclass(frozen=True)
class WaitsFor:
    """A patient and the kind of part its findings ask for, with nothing assigned yet."""

    item: Item
    kind: PartKind


def waiting_for_parts(items: Sequence[Item] | None = None) -> list[WaitsFor]:
    """Those whose findings name a part and that no part serves yet; a fixed number of queries."""
    found = at_work() if items is None else items
    facts = facts_for(found)
    waits = [WaitsFor(item, kind) for item in found if (kind := _asked(facts[item.pk]))]
    with_families(one.item for one in waits)
    return waits


def _asked(facts: Facts) -> PartKind | None:
    return named_part(facts.needs_part) if facts.needs_part and not facts.donor_parts else None
