"""What pages know of the ledger."""

from __future__ import annotations

from functools import partial
from typing import Any

from django.http import HttpRequest

from labcases.custody.models import AskedHandover
from labcases.custody.queries import failed_check
from labcases.custody.scanning.queries import waiting_for
from labcases.lab.models import Staff


def ledger(request: HttpRequest) -> dict[str, Any]:
    """``failed_check`` and ``handed_to_me``: asked for only by a page that shows them, so no other pays the query."""
    return {"failed_check": failed_check, "handed_to_me": partial(_handed_to, request)}


def _handed_to(request: HttpRequest) -> list[AskedHandover]:
    """Hand-overs that wait for the word of whoever looks."""
    person = getattr(request, "user", None)
    return waiting_for(person) if isinstance(person, Staff) else []
