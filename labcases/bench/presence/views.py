"""Who else has this docket open: asked by the page itself while it is open."""

from __future__ import annotations

from django.http import HttpResponse
from django.views.decorators.http import require_POST

from labcases.bench.presence.actions import be_there
from labcases.bench.presence.models import Presence
from labcases.cases.queries import case_for
from labcases.core.views import show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right


@require_POST
@needs(Right.LOOK)
def here(request: StaffRequest, code: str) -> HttpResponse:
    """I am here; who else is?"""
    case = case_for(request.user, code)
    be_there(case=case, person=request.user)
    others = Presence.objects.fresh().filter(case=case).exclude(person=request.user).select_related("person")
    return show(request, "bench/_here.html", {"others": list(others)})
