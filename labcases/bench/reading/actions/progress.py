"""Progress: how much had been read at a moment, by pass and head."""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils import timezone

from labcases.bench.reading.actions.uploads import size_of
from labcases.bench.reading.models import Progress
from labcases.cases.models import Item
from labcases.core.clock import rfc3339
from labcases.core.refused import Refused
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right

SKEW = timedelta(minutes=5)
MOST = 10_000  # of one batch

Key = tuple[int, int | None]


class NotThatMany(Refused):
    """A reading that cannot be, with its row."""


@dataclass(frozen=True)
class Noted:
    """One reading: at this moment, in this pass and by this head, so many sectors (and wanted bytes) since it began."""

    at: datetime
    sectors: int
    pass_number: int = 1
    head: int | None = None
    wanted_bytes: int = 0


@recorded
def note_progress(
    *, item: Item, noted: Sequence[Noted], by: Actor, happened: datetime, anew: bool = False
) -> tuple[list[Progress], list[str]]:
    """Keep readings, all or none; gives what was new, and sentences about what was put right by rule.

    The same reading sent twice is kept once. Rows count from 1. Raises NotThatMany for a count that is negative, larger
    than the medium, in the future, or other than what was said of that moment before; and for one that goes backwards,
    unless ``anew`` says that counting began again (then it is kept, and said).
    """
    by.must(Right.EXAMINE)
    if not 0 < len(noted) <= MOST:
        raise NotThatMany(f"Between 1 and {MOST:,} readings can be noted at once, not {len(noted):,}.")
    total, notes = size_of(item), list[str]()
    known = _known(item, noted)
    rows: list[Progress] = []
    for row, one in sorted(enumerate(noted, 1), key=lambda pair: pair[1].at):
        _must_be_possible(one, row, total)
        if _is_new(one, row, known):
            _must_go_on(one, row, known, anew, notes)
            known.setdefault((one.pass_number, one.head), _Known()).add(one)
            rows.append(
                Progress(
                    item=item, pass_number=one.pass_number, head=one.head, sectors=one.sectors,
                    wanted_bytes=one.wanted_bytes, **Entry.stamp(by, one.at),
                )
            )  # fmt: skip
    made = Progress.objects.bulk_create(rows)
    if repeated := len(noted) - len(made):
        notes.append(f"{'1 reading' if repeated == 1 else f'{repeated:,} readings'} had been noted already.")
    if made:
        said = _words(noted, len(made))
        record("progress-noted", thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)
    return made, notes


class _Known:
    """What was noted of one pass and head, by moment and in order of time."""

    def __init__(self) -> None:
        self.at: dict[datetime, Noted] = {}
        self._moments: list[datetime] = []

    def add(self, one: Noted) -> None:
        self.at[one.at] = one
        insort(self._moments, one.at)

    def around(self, moment: datetime) -> tuple[Noted | None, Noted | None]:
        """The last one before a moment, and the first one after it."""
        place = bisect_left(self._moments, moment)
        before = self.at[self._moments[place - 1]] if place else None
        return before, self.at[self._moments[place]] if place < len(self._moments) else None


def _known(item: Item, noted: Sequence[Noted]) -> dict[Key, _Known]:
    """What was noted before of the same passes and heads."""
    known: dict[Key, _Known] = {}
    for row in Progress.objects.filter(item=item, pass_number__in={one.pass_number for one in noted}):
        one = Noted(row.happened, row.sectors, row.pass_number, row.head, row.wanted_bytes)
        known.setdefault((row.pass_number, row.head), _Known()).add(one)
    return known


def _must_be_possible(one: Noted, row: int, total: int) -> None:
    if one.sectors < 0 or one.wanted_bytes < 0:
        raise NotThatMany(f"Row {row}: a count cannot be negative.")
    if one.sectors > total:
        raise NotThatMany(f"Row {row}: {one.sectors:,} sectors are more than the medium has ({total:,}).")
    if not 1 <= one.pass_number <= 999 or (one.head is not None and not 0 <= one.head <= 999):
        raise NotThatMany(f"Row {row}: passes count from 1, heads from 0, up to 999.")
    if one.at > timezone.now() + SKEW:
        raise NotThatMany(f"Row {row}: {rfc3339(one.at)} lies in the future.", mend="Set the computer's clock right.")


def _is_new(one: Noted, row: int, known: dict[Key, _Known]) -> bool:
    there = known.get((one.pass_number, one.head), _Known()).at.get(one.at)
    if there is not None and there != one:
        raise NotThatMany(
            f"Row {row}: for {rfc3339(one.at)} another count was noted before, {there.sectors:,} sectors.",
            mend="Send the count with the moment at which it was taken.",
        )
    return there is None


def _must_go_on(one: Noted, row: int, known: dict[Key, _Known], anew: bool, notes: list[str]) -> None:
    """A count goes on from the one before, and one that comes late not beyond the one after, unless counting is known
    to have begun anew between the two."""
    before, after = known.get((one.pass_number, one.head), _Known()).around(one.at)
    if before is not None and one.sectors < before.sectors:
        than, there = "fewer", before
    elif after is not None and one.sectors > after.sectors and (before is None or before.sectors <= after.sectors):
        than, there = "more", after
    else:
        return
    said = f"Row {row}: {one.sectors:,} sectors are {than} than the {there.sectors:,} noted for {rfc3339(there.at)}"
    if not anew:
        raise NotThatMany(f"{said}.", mend="Correct the number; or say that counting began anew.")
    notes.append(f"{said}: counting began anew.")


def _words(noted: Sequence[Noted], count: int) -> str:
    last = max(noted, key=lambda one: one.at)
    head = "" if last.head is None else f", head {last.head}"
    many = "" if count == 1 else f"{count:,} readings, the last: "
    return f"{many}pass {last.pass_number}{head}, {last.sectors:,} sectors"
