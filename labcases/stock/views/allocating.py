"""Who gets which, for all waiting patients at once."""

from __future__ import annotations

from django.http import HttpResponse
from django.views.decorators.http import require_GET

from labcases.core.views import show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.stock.forms.verbs import AssignForm
from labcases.stock.queries.whole_lab import who_gets_which as suggestion


@require_GET
@needs(Right.LOOK)
def who_gets_which(request: StaffRequest) -> HttpResponse:
    """A suggestion beside first come, first served. Each line is assigned on its own, by whoever may."""
    found = suggestion()
    rows = [(line, AssignForm(auto_id=f"{line.item}-%s")) for line in found.lines]
    return show(request, "stock/who_gets_which.html", {"found": found, "rows": rows, "place": "Stockroom"})
