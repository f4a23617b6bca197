"""Showing a stored paper."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from labcases.lab.access import needs
from labcases.lab.roles import Right
from labcases.paper.actions import reprint
from labcases.paper.models import Paper

# The browser's own PDF viewer is an embedded object, which the policy of the pages forbids.
POLICY = "default-src 'none'; object-src 'self'; frame-ancestors 'none'"


@needs(Right.LOOK)
@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """The bytes as they were printed, to look at in the browser."""
    paper = get_object_or_404(Paper, pk=pk)
    response = HttpResponse(reprint(paper), content_type="application/pdf")
    response.headers["Content-Disposition"] = content_disposition_header(False, paper.file_name) or "inline"
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Cache-Control"] = "private, no-store"
    response.headers["Content-Security-Policy"] = POLICY
    return response
