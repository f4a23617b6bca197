"""The layout of an item: how its clone is divided."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from labcases.bench.reading.models import KeptLayout
from labcases.cases.models import Item
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right


@recorded
def keep_layout(
    *,
    item: Item,
    kind: str,
    parts: Sequence[Mapping[str, Any]],
    by: Actor,
    happened: datetime,
    source: str = "",
    status: str = "",
    sector_bytes: int = 512,
    warnings: Sequence[str] = (),
) -> KeptLayout:
    """Keep how an item is divided; the newest one counts. ``parts`` are those of ``reading.parts.clean``."""
    by.must(Right.EXAMINE)
    made = KeptLayout.objects.create(
        item=item, kind=kind, parts=[dict(part) for part in parts], source=source, status=status,
        sector_bytes=sector_bytes, warnings=list(warnings), **Entry.stamp(by, happened),
    )  # fmt: skip
    many = "1 partition" if len(parts) == 1 else f"{len(parts)} partitions"
    record("layout-kept", thing=item.thing, by=by, happened=happened, because=many, case=item.case.code)
    return made
