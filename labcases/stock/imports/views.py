"""Tables of the stockroom: where they come in, and the whole stock as files."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.views.decorators.http import require_GET

from labcases.core.views import csv_file, show, xlsx_file
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.stock.imports import queries

OUT = {
    "donors": ([one.label for one in queries.DONOR_COLUMNS], queries.donors_out),
    "parts": (queries.PART_HEAD, queries.parts_out),
    "media": ([one.label for one in queries.MEDIA_COLUMNS], queries.media_out),
}
TITLES = {"donors": "Donors", "parts": "Parts of donors", "media": "Destinations and delivery media"}


@require_GET
@needs(Right.LOOK)
def tables(request: StaffRequest) -> HttpResponse:
    """What can come in, and what can go out."""
    return show(request, "stock/tables.html", {"out": TITLES, "place": "Stockroom"})


@require_GET
@needs(Right.LOOK)
def export(request: StaffRequest, what: str, form: str) -> HttpResponseBase:
    """The whole stock of one kind as a file; donors and media can come in again as they went out."""
    if what not in OUT:
        raise Http404("There is no such table.")
    head, rows = OUT[what]
    return csv_file(what, head, rows()) if form == "csv" else xlsx_file(what, head, rows())
