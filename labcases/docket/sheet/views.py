"""The bench sheet, asked for again by the page itself while it is open."""

from __future__ import annotations

from django.http import HttpResponse
from django.views.decorators.http import require_GET

from labcases.core.views import show
from labcases.docket.sheet.queries import sheet_for, version_for
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right


@require_GET
@needs(Right.LOOK)
def sheet(request: StaffRequest) -> HttpResponse:
    """The sheet as it stands; 204 and nothing when it still is what ``?since=`` names."""
    if request.GET.get("since") == version_for(request.user):
        return HttpResponse(status=204)
    return show(request, "docket/_bench_sheet.html", {"section": sheet_for(request)})
