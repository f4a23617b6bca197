"""The mailbox of the demo: what would have gone out."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_GET

from labcases.core.views import show
from labcases.demo.models import DemoMail
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right

ROWS = 50


@require_GET
@needs(Right.LOOK)
def mailbox(request: StaffRequest) -> HttpResponse:
    """Every mail, newest first."""
    page = Paginator(DemoMail.objects.defer("source"), ROWS).get_page(request.GET.get("page"))
    return show(request, "demo/mailbox.html", {"page": page, "place": "Office"})


@require_GET
@needs(Right.LOOK)
def mail(request: StaffRequest, pk: int) -> HttpResponse:
    """One mail, as people read it and as it goes over the wire."""
    return show(request, "demo/mail.html", {"mail": get_object_or_404(DemoMail, pk=pk), "place": "Office"})
