"""What the pages of the stockroom share: things by their code, the page of a verb, sorted lists."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.core.paginator import Page, Paginator
from django.http import Http404
from django.views.decorators.http import require_http_methods

from labcases.core import codes
from labcases.core.money import Money
from labcases.lab.access import StaffRequest
from labcases.stock.models import Destination, Donor, DonorPart

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])
ROWS = 50


def by_code(rows: Any, code: str, what: str) -> Any:
    """The row of the thing with this code. 404 with a sentence when it is mistyped or unknown."""
    try:
        read = codes.parse(code)
    except codes.MistypedCode as mistake:
        raise Http404(str(mistake)) from None
    found = rows.filter(thing__code=read.folded).first()
    if found is None:
        raise Http404(f"There is no {what} {read.printed}.")
    return found


def donor_of(code: str) -> Donor:
    place = ("thing__place", "thing__staff", "thing__party")
    donor: Donor = by_code(Donor.objects.select_related(*place, "family", "by"), code, "donor")
    return donor


def part_of(code: str) -> DonorPart:
    part: DonorPart = by_code(DonorPart.objects.with_context(), code, "donor part")
    return part


def medium_of(code: str) -> Destination:
    rows = Destination.objects.with_context().select_related("owned_by", "by")
    medium: Destination = by_code(rows, code, "destination or delivery medium")
    return medium


def page_of(title: str, form: Any, about: Any, about_words: str, **more: Any) -> dict[str, Any]:
    """The context of ``verb.html``."""
    return {"title": title, "form": form, "about": about, "about_words": about_words, "place": "Stockroom", **more}


def sorted_by(request: StaffRequest, rows: Any, columns: Mapping[str, str], default: str) -> Any:
    """Rows in the order the address asks for; what it asks for wrongly is the default order."""
    asked = request.GET.get("sort", default)
    column = columns.get(asked.removeprefix("-")) or columns[default.removeprefix("-")]
    sign = "-" if (asked if asked.removeprefix("-") in columns else default).startswith("-") else ""
    return rows.order_by(f"{sign}{column}", "pk")


def page_number(request: StaffRequest, rows: Any) -> Page[Any]:
    return Paginator(rows, ROWS).get_page(request.GET.get("page"))


def said_of(said: Mapping[str, Any], *names: str) -> dict[str, Any]:
    return {name: said[name] for name in names}


def start_of(form_class: Any, row: Donor | Destination) -> dict[str, Any]:
    """What a form of corrections begins with, and which event of the thing it has seen."""
    start = {name: getattr(row, name) for name in form_class.base_fields if hasattr(row, name)}
    cost = "" if row.cost is None else Money(row.cost, row.currency).plain()
    return start | {"cost": cost, "seen": row.thing.last_event}
