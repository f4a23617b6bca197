"""The page on which a whole parcel is confirmed."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from labcases.cases.queries import case_for
from labcases.core.views import bound, press, show
from labcases.handover.models import Handover
from labcases.handover.parcels import actions
from labcases.handover.parcels.forms import ArrivedForm
from labcases.handover.parcels.queries import parcels_of
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right


@require_http_methods(["GET", "HEAD", "POST"])
@needs(Right.LOOK, to_press=Right.MOVE)
def arrived(request: StaffRequest, code: str, number: int) -> HttpResponse:
    """All that is still on its way in this parcel has arrived, says its receiver."""
    case = case_for(request.user, code)
    posted = case.handovers.filter(manner=Handover.Manner.POSTED).prefetch_related("lines__thing")
    made = get_object_or_404(posted, number=number)
    form = bound(request, ArrivedForm, initial={"receiver": made.collector_name})

    def act(said: dict[str, Any]) -> str:
        said.pop("once")
        actions.parcel_arrived(handover=made, by=request.actor, **said)
        return reverse("handover:report", args=[str(case)])

    context = {"case": case, "handover": made, "parcel": parcels_of([made])[made.pk], "form": form, "place": "Counter"}
    return press(request, form, "parcel-arrived", act) or show(request, "handover/parcel.html", context)
