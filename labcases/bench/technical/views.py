"""The page that prints the technical report, and lists those that were printed."""

from __future__ import annotations

from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from labcases.bench.technical.actions import print_technical_report
from labcases.cases.queries import case_for
from labcases.core.forms import LabForm
from labcases.core.refused import Refused
from labcases.core.views import bound, see_other, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.paper.models import Paper

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.EXAMINE)
def technical_report(request: StaffRequest, code: str) -> HttpResponse:
    """Print everything that was found and done at the bench."""
    case = case_for(request.user, code)
    form = bound(request, LabForm)
    if request.method == "POST" and form.is_valid():
        try:
            made = print_technical_report(case=case, by=request.actor, happened=timezone.now())
            return see_other(request, made.get_absolute_url())
        except Refused as refused:
            form.add_refusal(refused)
    printed = Paper.objects.of_case(case.code).filter(kind="technical-report").select_related("by").order_by("-pk")
    context = {"title": "Technical report", "case": case, "form": form, "printed": printed, "place": "Bench"}
    return show(request, "bench/technical_report.html", context)
