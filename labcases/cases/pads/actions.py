"""The verbs of the pads: reserve, note as printed, void; and the claim of a code by the case that is made of it."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from django.utils import timezone

from labcases.cases.pads.models import ReservedCode
from labcases.core import codes
from labcases.core.refused import Refused
from labcases.custody.actions import mint, record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right

if TYPE_CHECKING:
    from labcases.cases.models import Case

MOST_SHEETS = 50  # of one pad; a thicker one is two


class SheetIsSpent(Refused):
    """The sheet became a case before, or is void."""


class BeforeThePad(Refused):
    """It is said to have happened before there was such a sheet."""


@recorded
def reserve_pad(*, count: int, by: Actor, happened: datetime) -> list[ReservedCode]:
    """A new pad of ``count`` sheets, each with a case code of its own that nothing else will ever get."""
    by.must(Right.TAKE_IN)
    if not 1 <= count <= MOST_SHEETS:
        raise Refused(f"A pad has 1 to {MOST_SHEETS} sheets.", mend="Reserve a second pad for more.")
    pad, year = mint("pad"), timezone.localtime(happened).year
    rows = [
        ReservedCode(
            code=codes.with_check(codes.case_body(year, mint(f"{year % 100:02d}"))),
            pad=pad,
            sheet=sheet,
            **Entry.stamp(by, happened),
        )
        for sheet in range(1, count + 1)
    ]
    made = ReservedCode.objects.bulk_create(rows)
    record("pad-reserved", thing=None, by=by, happened=happened, because=f"pad {pad}, {made[0]} to {made[-1]}")
    return made


def note_pad_printed(*, pad: int, happened: datetime) -> None:
    """The first time counts."""
    ReservedCode.objects.filter(pad=pad, printed=None).update(printed=happened)


@recorded
def void_sheet(*, reserved: ReservedCode, by: Actor, happened: datetime, because: str) -> ReservedCode:
    """A sheet that was spoilt or lost: its code is never used. Raises SheetIsSpent when it was used before."""
    by.must(Right.TAKE_IN)
    if not because:
        raise Refused("Say why the sheet is void.")
    if not ReservedCode.objects.waiting().filter(pk=reserved.pk).update(void_because=because):
        raise spent(reserved)
    reserved.refresh_from_db()
    record("sheet-voided", thing=None, by=by, happened=happened, because=f"{reserved}: {because}", case=reserved.code)
    return reserved


def must_be_free(reserved: ReservedCode, happened: datetime) -> None:
    """Call it under the ledger's lock, before anything is made. Raises SheetIsSpent or BeforeThePad."""
    if not ReservedCode.objects.waiting().filter(pk=reserved.pk).exists():
        raise spent(reserved)
    if happened < reserved.happened:
        raise BeforeThePad(
            f"Sheet {reserved} was reserved on {timezone.localtime(reserved.happened):%-d %B %Y, %H:%M}; "
            "nothing can have been written on it before.",
            mend="Look at the date and the time on the sheet again.",
        )


def claim(reserved: ReservedCode, case: Case) -> None:
    """Tie the sheet to its case, once. Raises SheetIsSpent when somebody was faster."""
    if not ReservedCode.objects.waiting().filter(pk=reserved.pk).update(case=case):
        raise spent(reserved)
    reserved.case = case


def spent(reserved: ReservedCode) -> SheetIsSpent:
    now = ReservedCode.objects.get(pk=reserved.pk)
    if now.void_because:
        return SheetIsSpent(
            f"Sheet {now} is void: {now.void_because}", mend="Take it in without the sheet, under a code of its own."
        )
    return SheetIsSpent(f"Sheet {now} is a case already.", mend=f"Open case {now} and go on there.")
