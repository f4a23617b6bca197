"""Sheets of paper pads, and what is still to be typed in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, Max, Min, Q
from django.http import Http404

from labcases.cases.pads.models import ReservedCode
from labcases.core import codes

SHOWN = 100


@dataclass(frozen=True)
class Pad:
    """One pad, by its number: how many sheets it has, and how many are neither typed in nor void."""

    pad: int
    sheets: int
    waiting: int
    reserved: datetime
    printed: datetime | None


def pads() -> list[Pad]:
    """The pads, the newest first, in one query."""
    waiting = Count("pk", filter=Q(case=None, void_because=""))
    rows = ReservedCode.objects.order_by("-pad").values("pad")
    rows = rows.annotate(sheets=Count("pk"), waiting=waiting, reserved=Min("happened"), printed=Max("printed"))
    return [Pad(**row) for row in rows[:SHOWN]]


def sheets_of(pad: int) -> list[ReservedCode]:
    """The sheets of a pad in their order; 404 when there is no such pad."""
    found = list(ReservedCode.objects.filter(pad=pad).select_related("case__thing", "case__owner"))
    if not found:
        raise Http404(f"There is no pad {pad}.")
    return found


def sheet_for(code: str) -> ReservedCode:
    """The sheet with this code, however it is spelt; 404 with a sentence otherwise."""
    try:
        read = codes.parse(code)
    except codes.MistypedCode as mistake:
        raise Http404(str(mistake)) from None
    found = ReservedCode.objects.select_related("case__thing").filter(code=read.folded).first()
    if found is None:
        raise Http404(f"No sheet of a paper pad carries {read.printed}.")
    return found
