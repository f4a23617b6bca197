"""Where things lie: spans tied to a line of the wanted list, or to structures of the file system."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import numpy as np
from django.utils import timezone

from labcases.bench.reading.actions.uploads import size_of
from labcases.bench.reading.models import ReadingArea
from labcases.bench.spans import Rows, read_spans, union
from labcases.bench.stored import pack_columns
from labcases.cases.models import Item, Wanted
from labcases.core import vault
from labcases.core.refused import Refused
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right


class NoArea(Refused):
    """An area without a sector, or one that was taken out already."""


def tie_area(
    *, item: Item, name: str, spans: Rows, by: Actor, happened: datetime, wanted: Wanted | None = None
) -> ReadingArea:
    """Say where something lies: a line of the wanted list, or (``wanted`` None) structures of the file system.

    ``spans`` are ``(first sector, sectors)``. Raises BadSpan with the row at fault, NoArea when they hold no sector.
    """
    by.must(Right.EXAMINE)
    firsts, sectors = read_spans(spans, size_of(item))
    firsts, ends = union(firsts, firsts + sectors)
    size = int((ends - firsts).sum())
    if not size:
        raise NoArea("These spans hold no sector.", mend="Give at least one span with sectors in it.")
    columns = {"first": np.asarray(firsts), "sectors": ends - firsts}
    purpose = ReadingArea.Purpose.WANTED if wanted else ReadingArea.Purpose.STRUCTURES
    made = ReadingArea(
        item=item, purpose=purpose, wanted=wanted, name=name, spans=vault.put(pack_columns(columns)), sectors=size,
        **Entry.stamp(by, happened),
    )  # fmt: skip
    return _keep(made, by, happened)


@recorded
def _keep(made: ReadingArea, by: Actor, happened: datetime) -> ReadingArea:
    made.save()
    what = f"wanted line {made.wanted.number}" if made.wanted else "structures"
    return _recorded(made, f"{what}, {made.name}, {made.sectors:,} sectors", by, happened)


def _recorded(area: ReadingArea, said: str, by: Actor, happened: Any) -> ReadingArea:
    item = area.item
    record("area-tied", thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)
    return area


@recorded
def drop_area(*, area: ReadingArea, by: Actor, happened: datetime) -> ReadingArea:
    """Take an area out again. Raises NoArea the second time."""
    by.must(Right.EXAMINE)
    if not ReadingArea.objects.filter(pk=area.pk, dropped=None).update(dropped=timezone.now()):
        raise NoArea(f"“{area.name}” was taken out already.")
    return _recorded(area, f"{area.name} taken out", by, happened)
