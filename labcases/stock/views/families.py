"""Families: the list, the card of one, and keeping it."""

from __future__ import annotations

from typing import Any

from django.db.models import Count
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_GET

from labcases.cases.queries import item_for
from labcases.core import sections
from labcases.core.views import bound, csv_file, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.stock import actions
from labcases.stock.forms.lists import FamilyFilter
from labcases.stock.forms.stocking import FamilyForm
from labcases.stock.models import Donor, Family
from labcases.stock.queries import card
from labcases.stock.sizes import Size, sizes_in_words
from labcases.stock.views.common import GET_OR_POST, page_number, page_of, said_of, sorted_by

KNOWN = ("heads", "platters", "shingled", "helium", "low_not_outer", "quirks")
COLUMNS = {"name": "name", "heads": "heads", "platters": "platters"}


@require_GET
@needs(Right.LOOK)
def families(request: StaffRequest) -> HttpResponseBase:
    """Every family with the model numbers it is sold under."""
    form = FamilyFilter(request.GET)
    listed = sorted_by(request, form.narrow(Family.objects.all()), COLUMNS, "name")
    if request.GET.get("format") == "csv":
        lines = ((family, family.heads, family.platters, family.quirks) for family in listed.iterator())
        return csv_file("families", ["family", "heads", "platters", "quirks"], lines)
    page = page_number(request, listed.prefetch_related("aliases"))
    counts = dict(Donor.objects.filter(family__in=list(page)).order_by().values_list("family").annotate(Count("pk")))
    rows = [(family, counts.get(family.pk, 0)) for family in page]
    return show(request, "stock/families.html", {"filter": form, "page": page, "rows": rows, "sort": "name"})


@require_GET
@needs(Right.LOOK)
def family(request: StaffRequest, pk: int) -> HttpResponse:
    """The card of a family: its names, what is expected inside, and what every room knows of it."""
    found = get_object_or_404(Family.objects.prefetch_related("aliases", "sizes"), pk=pk)
    parts = [(part, part.context(found)) for part in sections.of_card("family")]
    context = {"family": found, "sizes": card.sizes_of(found), "parts": parts, "place": "Stockroom"}
    return show(request, "stock/family.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def add_family(request: StaffRequest) -> HttpResponse:
    return _family(request, None, {})


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def family_from(request: StaffRequest, code: str) -> HttpResponse:
    """A family begun from a patient: what is known of it is filled in already."""
    item = item_for(request.user, code)
    return redirect(item.family) if item.family else _family(request, None, card.begun_from(item))


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def change_family(request: StaffRequest, pk: int) -> HttpResponse:
    """Correct what is known of a family."""
    found = get_object_or_404(Family.objects.prefetch_related("aliases", "sizes"), pk=pk)
    lines = [f"{alias.maker}, {alias.model_start}".removeprefix(", ") for alias in found.aliases.all()]
    about = {name: getattr(found, name) for name in ("name", *KNOWN)}
    sizes = [Size(s.gigabytes, s.heads, s.platters) for s in found.sizes.all()]
    return _family(request, found, about | {"sold_as": "\n".join(lines), "sizes": sizes_in_words(sizes)})


def _family(request: StaffRequest, family: Family | None, start: dict[str, Any]) -> HttpResponse:
    form = bound(request, FamilyForm, family=family, initial=start)

    def act(said: dict[str, Any]) -> Family:
        about = said_of(said, "name", *KNOWN, "sizes")
        about |= {"by": request.actor, "happened": timezone.now()}
        return actions.keep_family(family=family, aliases=said["sold_as"], **about)

    title, button = ("Correct the family", "Keep this correction") if family else ("Add a family", "Add the family")
    context = page_of(title, form, family, "", button=button)
    return press(request, form, "keep-family", act) or show(request, "stock/family_form.html", context)
