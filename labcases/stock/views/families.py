"""Families: the list, and keeping one."""

from __future__ import annotations

from typing import Any

from django.db.models import Count
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from labcases.core.views import bound, csv_file, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.stock import actions
from labcases.stock.forms.lists import FamilyFilter
from labcases.stock.forms.stocking import FamilyForm
from labcases.stock.models import Donor, Family
from labcases.stock.views.common import GET_OR_POST, page_number, page_of, said_of, sorted_by

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


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def add_family(request: StaffRequest) -> HttpResponse:
    return _family(request, None, {})


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.KEEP_STOCK)
def change_family(request: StaffRequest, pk: int) -> HttpResponse:
    """What is known of a family, and correcting it."""
    found = get_object_or_404(Family.objects.prefetch_related("aliases"), pk=pk)
    lines = [f"{alias.maker}, {alias.model_start}".removeprefix(", ") for alias in found.aliases.all()]
    about = {name: getattr(found, name) for name in ("name", "heads", "platters", "quirks")}
    return _family(request, found, about | {"sold_as": "\n".join(lines)})


def _family(request: StaffRequest, family: Family | None, start: dict[str, Any]) -> HttpResponse:
    form = bound(request, FamilyForm, family=family, initial=start)

    def act(said: dict[str, Any]) -> str:
        about = said_of(said, "name", "heads", "platters", "quirks")
        about |= {"by": request.actor, "happened": timezone.now()}
        actions.keep_family(family=family, aliases=said["sold_as"], **about)
        return reverse("stock:families")

    title, button = (f"Family {family}", "Keep the changes") if family else ("Add a family", "Add the family")
    context = page_of(title, form, None, "", button=button)
    return press(request, form, "keep-family", act) or show(request, "stock/family_form.html", context)
