"""What lies ahead of a reading: the plan of the next pass, and how long the rest will take."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from labcases.bench.coverage import Coverage
from labcases.bench.forecast import Forecast, Key, Reading, forecast
from labcases.bench.plan import READS, Area, Plan, make_plan
from labcases.bench.reading.models import CoverageUpload, HeadMap, PlanVersion, Progress
from labcases.bench.reading.parts import name_of
from labcases.bench.reading.queries.read import Read
from labcases.bench.stored import unpack_columns
from labcases.cases.models import Item
from labcases.core import vault

COLUMNS = ("order", "first", "sectors", "direction", "heads", "step", "part", "name", "why")
MOST_READINGS = 20_000


def plan_of(read: Read, asked: Mapping[str, Any]) -> Plan:
    """The plan of a pass; ``asked`` as the form gives it. Raises BadSpan."""
    number = asked["pass_number"]
    return make_plan(
        read.coverage or Coverage.from_rows(read.total),
        pass_number=number,
        structures=read.structures(),
        wanted=read.wanted(),
        partitions=[Area(name_of(part), [(part["first_lba"], part["sectors"])]) for part in read.parts],
        heads=read.planned_heads(),
        damage=[*asked["damage"], *asked["damage_spans"]],
        tried=_tried(read, number) if asked["tried"] else (),
        only_wanted=asked["only_wanted"],
        low_is_outer=read.head_map.low_is_outer if read.head_map else True,
        steps=asked["steps"],
    )


def _tried(read: Read, number: int) -> Any:
    """Every span that this pass has said anything of."""
    uploads = [one for one in read.uploads if one.pass_number == number and one.verb == CoverageUpload.Verb.OVERLAY]
    tables = [unpack_columns(vault.get(one.spans)) for one in uploads]
    chosen = [(table, table["state"] > 0) for table in tables]
    if not chosen:
        return ()
    return [np.concatenate([table[name][said] for table, said in chosen]) for name in ("first", "sectors")]


def lines_of(plan: PlanVersion) -> dict[str, Any]:
    """The lines of a kept plan, as columns."""
    return unpack_columns(vault.get(plan.file))


def rows_of(columns: Mapping[str, Any], begin: int = 0, end: int | None = None) -> list[list[Any]]:
    """Lines of a plan as rows, in its order."""
    texts = [columns[name][begin:end].tolist() for name in COLUMNS]
    return [list(row) for row in zip(*texts, strict=True)]


@dataclass(frozen=True)
class Ahead:
    """The forecast of an item, and the readings it was made from."""

    forecast: Forecast
    readings: Sequence[Progress]
    wanted_missing: int


def forecast_of(read: Read) -> Ahead:
    """How long the rest will take, from everything that was noted."""
    rows = list(
        Progress.objects.filter(item=read.item).select_related("by").order_by("-happened", "-pk")[:MOST_READINGS]
    )
    rows.reverse()
    told = [Reading(row.happened.timestamp(), row.sectors, row.pass_number, row.head, row.wanted_bytes) for row in rows]
    missing = read.wanted_missing()
    return Ahead(forecast(told, _left(read, rows), wanted_missing=missing), rows, missing)


def _left(read: Read, rows: Sequence[Progress]) -> dict[Key, int]:
    """Sectors that the newest pass still has to try: by head where it is read head by head."""
    if not rows:
        return {}
    number = max(row.pass_number for row in rows)
    states = READS[min(number, len(READS)) - 1]
    coverage = read.coverage or Coverage.from_rows(read.total)
    by_head = {row.head for row in rows if row.pass_number == number} - {None}
    if not by_head or not read.head_spans:
        keys = by_head or {None}
        whole = sum(coverage.count(state) for state in states)
        return {(number, head): whole if len(keys) == 1 else 0 for head in keys}
    spans = {head: list(columns) for head, columns in read.head_spans.items()}
    return {(number, head): sum(coverage.count_in(state, spans[head]) for state in states) for head in spans}


def misleading(item: Item) -> str:
    """Why a low sector number is not an outer track on this item, as a sentence; empty where nothing says so."""
    family = item.family
    if family and family.low_not_outer:
        return f"A low sector number is not an outer track in the family {family}: a table of heads by sector misleads."
    if "shingled" in item.nature:
        return "It is shingled, so a low sector number is no outer track: a table of heads by sector misleads."
    if family and HeadMap.objects.filter(item__family=family, low_is_outer=False).exclude(item=item).exists():
        return (
            "On another disk of this family, low sector numbers did not lie on outer tracks: a table of heads by "
            "sector may mislead, so compare it with what you see."
        )
    return ""
