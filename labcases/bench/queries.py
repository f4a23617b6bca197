"""Reads of the bench."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from labcases.bench.models import Examination, FaultClass, Result
from labcases.cases.models import Item, StageStamp
from labcases.cases.stages import Stage
from labcases.custody.models import Event


def facts(items: Sequence[Item]) -> Mapping[int, Mapping[str, Any]]:
    """This room's facts about items, from the newest examination and result of each."""
    known: dict[int, dict[str, Any]] = {item.pk: {} for item in items}
    for examination in Examination.objects.filter(item__in=known).order_by("pk"):
        known[examination.item_id].update(_of_examination(examination))
        known[examination.item_id]["inspected_inside"] |= examination.inside
    worked_since = _last_start(known)
    for pk, entered in Result.objects.filter(item__in=known).order_by("pk").values_list("item", "entered"):
        known[pk]["result_checked"] = pk not in worked_since or entered >= worked_since[pk]
    cloned = set(
        Event.objects.filter(kind="cloned", thing_code__in=[i.thing.code for i in items]).values_list(
            "thing_code", flat=True
        )
    )
    for item in items:
        known[item.pk]["clone_noted"] = item.thing.code in cloned
    return known


def _of_examination(examination: Examination) -> dict[str, Any]:
    faults = ", ".join(FaultClass(fault).label for fault in examination.faults)
    return {
        "examined": True,
        "inspected_inside": False,
        "found": faults,
        "prospects": examination.prospects,
        "needs_part": examination.needs_part,
    }


def _last_start(items: Any) -> dict[int, Any]:
    """When work last began on each item: a result from before that says nothing about it."""
    stamps = StageStamp.objects.filter(item__in=items, stage=Stage.IN_WORK).order_by("pk")
    return dict(stamps.values_list("item", "entered"))
