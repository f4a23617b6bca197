"""The lab's clock: every page shows times in the lab's zone."""

from __future__ import annotations

from collections.abc import Callable
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from labcases.lab.models import Profile


class LabTime:
    """Reads the profile once a request and activates its zone."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.lab = Profile.current()  # type: ignore[attr-defined]
        with timezone.override(ZoneInfo(request.lab.time_zone)):  # type: ignore[attr-defined]
            return self.get_response(request)
