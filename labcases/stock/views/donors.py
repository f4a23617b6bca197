"""Donors and their parts: the list, the page of one, what comes in, the verbs of a part."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.utils import timezone
from django.views.decorators.http import require_GET

from labcases.core import codes
from labcases.core.money import Money
from labcases.core.views import bound, csv_file, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.stock import actions
from labcases.stock.forms.lists import PartFilter
from labcases.stock.forms.stocking import ChangeDonorForm, NewDonorForm
from labcases.stock.models import Donor, DonorPart, Need
from labcases.stock.queries.served import part_history
from labcases.stock.views.common import (
    GET_OR_POST,
    donor_of,
    page_number,
    page_of,
    sorted_by,
    start_of,
)

COLUMNS = {
    "code": "thing__code",
    "part": "part",
    "family": "donor__family__name",
    "model": "donor__model",
    "state": "state",
    "where": "thing__place__name",
    "made": "donor__made",
}
CSV_HEAD = [
    "part",
    "kind",
    "state",
    "serves",
    "family",
    "maker",
    "model",
    "serial",
    "firmware",
    "board",
    "made",
    "where",
]


@require_GET
@needs(Right.LOOK)
def parts(request: StaffRequest) -> HttpResponseBase:
    """Every part of every donor."""
    form = PartFilter(request.GET)
    listed = form.narrow(DonorPart.objects.with_context().with_serving())
    listed = sorted_by(request, listed, COLUMNS, "-code")
    if request.GET.get("format") == "csv":
        return csv_file("parts", CSV_HEAD, (_csv_row(part) for part in listed.iterator()))
    context = {"filter": form, "page": page_number(request, listed), "sort": "-code"}
    return show(request, "stock/parts.html", context)


def _csv_row(part: Any) -> tuple[Any, ...]:
    donor, serves = part.donor, part.serves and codes.printed(part.serves)
    about = (donor.family, donor.maker, donor.model, donor.serial, donor.firmware, donor.board_number, donor.made)
    return part, part.part, part.standing, serves, *about, part.thing.whereabouts


@require_GET
@needs(Right.LOOK)
def donor(request: StaffRequest, code: str) -> HttpResponse:
    """One donor: what is known, its parts, whom they served and what came of it."""
    found = donor_of(code)
    listed = found.parts.with_context()
    history = list(part_history().filter(part__donor=found))
    serves = {row.part_id: row for row in history if row.ended is None}
    parts = [(part, serves.get(part.pk)) for part in listed]
    offered = Need.objects.still_open().with_context().filter(offered__donor=found).order_by("pk")
    context = {"donor": found, "parts": parts, "history": history, "offered": offered, "place": "Stockroom"}
    return show(request, "stock/donor.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def add_donor(request: StaffRequest) -> HttpResponse:
    """Take a donor into stock; ``?need=`` fills in where it was bought for whom, and for how much."""
    form = bound(request, NewDonorForm, currency=request.lab.currency, initial=_bought(request))

    def act(said: dict[str, Any]) -> Donor:
        about = {"currency": request.lab.currency, "parts": said["parts"], "at": said["place"], **form.about()}
        return actions.stock_donor(by=request.actor, happened=said["happened"], **about)

    context = page_of("Add a donor", form, None, "")
    return press(request, form, "add-donor", act) or show(request, "stock/medium_form.html", context)


def _bought(request: StaffRequest) -> dict[str, Any]:
    """What the order of a need says of what was in its parcel. What stands on the label is still to be read off it."""
    asked = request.GET.get("need", "")
    known = asked.isascii() and asked.isdigit() and len(asked) < 18
    need = Need.objects.filter(pk=asked).select_related("item").first() if known else None
    if need is None:
        return {}
    cost = "" if need.price is None else Money(need.price, need.currency).plain()
    return {"parts": [need.part], "kind": need.item.kind, "supplier": need.supplier, "cost": cost}


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def change_donor(request: StaffRequest, code: str) -> HttpResponse:
    """Correct what is known of a donor."""
    found = donor_of(code)
    start = start_of(ChangeDonorForm, found)
    form = bound(request, ChangeDonorForm, currency=found.currency, leave_out=found.thing, initial=start)

    def act(said: dict[str, Any]) -> Donor:
        about = {"by": request.actor, "happened": timezone.now(), **form.about()}
        return actions.change_donor(donor=found, seen=said["seen"], **about)

    context = page_of("Correct the donor", form, found, found.medium_words, button="Keep this correction")
    return press(request, form, "change-donor", act) or show(request, "stock/medium_form.html", context)
