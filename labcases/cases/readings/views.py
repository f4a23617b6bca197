"""A page of the medium, read while a drive is taken in: what it says fills the blank fields of the item."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from labcases.cases.readings.actions import NotReadable, Read, read_for_draft, read_page
from labcases.cases.readings.comparing import NAMES, blanks_filled
from labcases.cases.views.take_in import changed
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right

LONGEST_PAGE = 256 * 1024


@require_http_methods(["GET", "POST"])
@needs(Right.TAKE_IN)
def read_medium(request: StaffRequest, key: UUID) -> HttpResponse:
    """``read`` or ``size`` says which button was pressed, and of which item (from 0); nothing is taken in yet."""
    if request.method == "GET":
        return redirect(f"{reverse('cases:take-in')}?draft={key}")
    typed, unread = request.POST.copy(), {}
    number, _, sectors = (request.POST.get("size") or request.POST.get("read", "")).partition(":")
    if number.isdecimal() and len(number) <= 2:
        if sectors.isdecimal():
            typed[f"item-{int(number)}-sectors"] = sectors[:16]
        else:
            unread = _read_into(request, key, typed, int(number))
    return changed(request, key, typed, unread=unread)


def _read_into(request: StaffRequest, key: UUID, typed: QueryDict, number: int) -> dict[int, list[str]]:
    """Fill the item's blank fields; the sentences of a page that could not be read, by the item's number."""
    prefix = f"item-{number}-"
    try:
        read = read_page(_given(request, prefix))
    except NotReadable as refused:
        return {number: refused.sentences()}
    noted = {name: typed.get(f"{prefix}{name}", "").strip() for name in NAMES}
    filled = blanks_filled(noted, read.said, whole=read.fields["whole"])
    for name, value in filled.items():
        typed[f"{prefix}{name}"] = str(value)
    typed[f"{prefix}reading"] = str(_kept(request, key, read, filled))
    typed.pop(f"{prefix}page", None)
    return {}


def _given(request: StaffRequest, prefix: str) -> bytes | str:
    upload = request.FILES.get(f"{prefix}file")
    if upload is not None:
        if (upload.size or 0) > LONGEST_PAGE:
            raise NotReadable("This file is too long to be one page.", mend="256 KiB at most.")
        return bytes(upload.read())
    return request.POST.get(f"{prefix}page", "")[: LONGEST_PAGE + 1]


def _kept(request: StaffRequest, key: UUID, read: Read, filled: dict[str, object]) -> int:
    made = read_for_draft(draft=key, read=read, filled=list(filled), by=request.actor, happened=timezone.now())
    return made.pk
