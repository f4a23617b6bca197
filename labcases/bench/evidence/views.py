"""The page on which photos are tied to what was found."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_http_methods

from labcases.bench.evidence.actions import show_findings
from labcases.bench.evidence.forms import EvidenceForm
from labcases.bench.evidence.queries import photos_for
from labcases.bench.models import Examination
from labcases.cases.models import Item
from labcases.cases.queries import item_for
from labcases.core.views import bound, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])


@GET_OR_POST
@needs(Right.EXAMINE)
def evidence(request: StaffRequest, code: str, pk: int) -> HttpResponse:
    """Which photos show what was found."""
    item = item_for(request.user, code)
    found = get_object_or_404(
        Examination.objects.select_related("item__thing", "item__case__thing", "by"), item=item, pk=pk
    )
    form = bound(request, EvidenceForm, examination=found, photos=photos_for(item))

    def act(said: dict[str, Any]) -> Item:
        show_findings(examination=found, photos=form.chosen(), by=request.actor, happened=said["happened"])
        return item

    if done := press(request, form, f"show-findings {pk}", act):
        return done
    about = {"title": "What the photos show", "about": item, "about_words": item.medium_words, "place": "Bench"}
    context = {**about, "form": form, "look": found, "item": item, "button": "Keep what they show"}
    return show(request, "bench/evidence.html", context)
