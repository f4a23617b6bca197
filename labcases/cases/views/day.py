"""The day sheet of the Counter: one page to print in the morning."""

from __future__ import annotations

from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_GET

from labcases.core import sections
from labcases.core.views import show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right

SHEET = "day-sheet"  # the page under which rooms put their parts on the sheet


@require_GET
@needs(Right.LOOK)
def today(request: StaffRequest) -> HttpResponse:
    """Who comes for their things, what is expected, what is half done, what did not go out."""
    parts = [(part, part.context(request)) for part in sections.of_front(SHEET)]
    return show(request, "cases/day_sheet.html", {"parts": parts, "now": timezone.now(), "place": "Counter"})
