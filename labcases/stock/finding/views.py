"""Find: one field, parts or media, facets; everything in the address."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import HttpResponseRedirect
from django.http.response import HttpResponseBase
from django.urls import reverse
from django.views.decorators.http import require_GET

from labcases.cases.models import Item
from labcases.core.text import one_line
from labcases.core.views import csv_file, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.stock.finding import queries
from labcases.stock.finding.asked import Asked, understand
from labcases.stock.finding.queries import FACETS
from labcases.stock.views.common import ROWS, sorted_by

PART_COLUMNS = {
    "code": "thing__code",
    "part": "part",
    "model": "donor__model",
    "state": "state",
    "where": "thing__place__name",
}
MEDIA_COLUMNS = {
    "code": "thing__code",
    "part": "use",
    "model": "model",
    "state": "state",
    "where": "thing__place__name",
}


@require_GET
@needs(Right.LOOK)
def find(request: StaffRequest) -> HttpResponseBase:
    """Everything in the stockroom that fits what was typed; for a patient, the page where it is matched."""
    typed = one_line(request.GET.get("q", ""))[:200]
    asked = understand(typed)
    patients = queries.patients_of(asked.for_code) if asked.for_code else []
    if len(patients) == 1:
        return HttpResponseRedirect(_match(patients[0], asked))
    chosen = {name: request.GET.get(name, "") for name in FACETS}
    found = queries.find(asked, request.GET.get("what", ""), chosen)
    what = found.what
    columns = PART_COLUMNS if what == "parts" else MEDIA_COLUMNS
    listed = sorted_by(request, found.rows.with_context(), columns, "code")
    if request.GET.get("format") == "csv":
        return csv_file("found", CSV[what], (_csv_row(what, row) for row in listed.iterator(chunk_size=500)))
    context = {
        "typed": typed,
        "labels": urlencode({"found": urlencode({"q": typed, "what": what, **chosen})}),
        "asked": asked,
        "patients": [(item, _match(item, asked)) for item in patients],
        "counts": found.totals,
        "what": what,
        "facets": queries.facets(found.counted, found.kind, chosen),
        "chosen": chosen,
        "page": _page(request, listed, found.counted.total),
        "sort": "code",
        "place": "Stockroom",
    }
    return show(request, "stock/find.html", context)


class ByKey:
    """Rows of which a page takes a few: sorted by their keys alone, since a sort carries along whatever is read."""

    def __init__(self, rows: Any) -> None:
        self.rows = rows

    def __getitem__(self, few: slice) -> list[Any]:
        keys = list(self.rows.values_list("pk", flat=True)[few])
        whole = self.rows.model.objects.with_context().in_bulk(keys)
        return [whole[key] for key in keys if key in whole]


def _page(request: StaffRequest, listed: Any, total: int) -> Any:
    """The page asked for; the rows are counted already, and counting costs a walk through all of them."""
    paginator = Paginator(ByKey(listed), ROWS)  # type: ignore[arg-type, var-annotated]
    paginator.count = total
    return paginator.get_page(request.GET.get("page"))


def _match(item: Item, asked: Asked) -> str:
    """Where a patient is matched with what was asked for."""
    code = str(item)
    if asked.what == "media":
        return reverse("stock:assign-destination", args=[code])
    if not asked.part:
        return reverse("stock:assign", args=[code])
    return f"{reverse('stock:assign-donor', args=[code])}?{urlencode({'part': asked.part})}"


CSV = {
    "parts": ["part", "kind", "state", "donor", "maker", "model", "family", "sectors", "bytes a sector", "where"],
    "media": ["medium", "use", "state", "holds", "maker", "model", "family", "sectors", "bytes a sector", "where"],
}


def _csv_row(what: str, row: Any) -> tuple[Any, ...]:
    medium = row.donor if what == "parts" else row
    kind = row.part if what == "parts" else row.get_use_display()
    whose = row.donor if what == "parts" else row.held_for
    about = (medium.maker, medium.model, medium.family, medium.sectors, medium.sector_bytes)
    standing = row.standing if what == "parts" else row.get_state_display()
    return row, kind, standing, whose, *about, row.thing.whereabouts
