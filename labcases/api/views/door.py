"""The one view behind every address of the interface. It loads the interface when somebody first calls."""

from __future__ import annotations

import logging
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.http.response import HttpResponseBase
from django.urls import Resolver404
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_safe

from labcases.api.views.problems import answer

log = logging.getLogger(__name__)


@login_not_required
@csrf_exempt
def door(request: HttpRequest, rest: str) -> HttpResponseBase:
    """Let a bench computer in by its token (no cookie counts here), and say everything that is wrong as a problem."""
    from labcases.api.views import endpoints

    try:
        match = endpoints.RESOLVER.resolve(rest)
    except Resolver404:
        return answer("not-found", f"There is no address /api/v1/{rest[:80]}.")
    try:
        response: HttpResponse = match.func(request, *match.args, **match.kwargs)
    except Exception:
        log.exception("The interface failed at %s", request.path)
        return answer("fault", "This is a fault of the program; it is logged. Nothing was kept of this request.")
    if response.status_code == 405:
        allowed = response.headers.get("Allow", "")
        return answer("method", f"This address takes {allowed}, not {request.method}.", headers={"Allow": allowed})
    return response


@login_not_required
@require_safe
def openapi(request: HttpRequest) -> HttpResponse:
    """The OpenAPI 3.1 document."""
    return JsonResponse(document(), json_dumps_params={"indent": 1})


def document() -> dict[str, Any]:
    from labcases.api.views import endpoints

    return endpoints.document()
