"""Heads by sector, and what is decided about a head."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

import numpy as np

from labcases.bench.reading.models import HeadMap, HeadVerdict
from labcases.bench.stored import pack_columns
from labcases.cases.models import Item
from labcases.core import vault
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right


def map_heads(
    *,
    item: Item,
    firsts: Any,
    sectors: Any,
    heads: Any,
    data: bytes,
    by: Actor,
    happened: datetime,
    name: str = "",
    low_is_outer: bool = True,
    notes: Sequence[str] = (),
) -> HeadMap:
    """Keep which head reads which sectors, as checked columns; ``data`` is the table as it came. The newest counts."""
    by.must(Right.EXAMINE)
    columns = {"first": firsts, "sectors": sectors, "head": np.asarray(heads, np.int64)}
    made = HeadMap(
        item=item, name=name, file=vault.put(data), spans=vault.put(pack_columns(columns)), rows=len(firsts),
        heads=sorted({int(head) for head in heads}), low_is_outer=low_is_outer, notes=list(notes),
        **Entry.stamp(by, happened),
    )  # fmt: skip
    return _keep(made, by, happened)


@recorded
def _keep(made: HeadMap, by: Actor, happened: datetime) -> HeadMap:
    made.save()
    said = f"{len(made.heads)} heads, {made.rows:,} spans, sha-256 {made.file}"
    item = made.item
    record("heads-mapped", thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)
    return made


@recorded
def judge_head(*, item: Item, head: int, state: str, because: str, by: Actor, happened: datetime) -> HeadVerdict:
    """Say how a head does, over what its errors and delays say; "computed" takes an earlier word back."""
    by.must(Right.EXAMINE)
    made = HeadVerdict.objects.create(item=item, head=head, state=state, because=because, **Entry.stamp(by, happened))
    said = f"{made}; {because}"
    record("head-judged", thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)
    return made
