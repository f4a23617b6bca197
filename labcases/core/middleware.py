"""What happens around every request."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.contrib.auth.views import redirect_to_login
from django.core.files.uploadhandler import FileUploadHandler, SkipFile
from django.http import HttpRequest, HttpResponse, QueryDict
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.views.debug import SafeExceptionReporterFilter
from django_htmx.http import HttpResponseClientRedirect

from labcases.core.refused import Refused
from labcases.core.views import HELD

Next = Callable[[HttpRequest], HttpResponse]

POLICY = "; ".join(
    (
        "default-src 'self'",
        "img-src 'self' data: blob:",
        "object-src 'none'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
        "form-action 'self'",
    )
)
LONGEST_HELD = 200_000


class ContentSecurityPolicy:
    """Nothing inline, nothing from elsewhere; pages with people's data are not kept by shared caches."""

    def __init__(self, get_response: Next) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", POLICY)
        response.headers.setdefault("Permissions-Policy", "camera=(self), microphone=(), geolocation=()")
        if not request.path_info.startswith("/static/"):
            response.headers.setdefault("Cache-Control", "private, no-store")
        return response


class KeepWhatWasTyped:
    """A form sent after the log-in was lost is held with the session and comes back filled in after log-in.

    Passwords and files are not held.
    """

    def __init__(self, get_response: Next) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Callable[..., object], args: object, kwargs: object) -> None:
        if request.method != "POST" or not getattr(view, "login_required", True):
            return
        if request.user.is_authenticated:
            if (request.session.get(HELD) or {}).get("path") == request.path:
                del request.session[HELD]  # sent again
            return
        typed = request.POST.copy()
        for name in [n for n in typed if "password" in n or n == "csrfmiddlewaretoken"]:
            del typed[name]
        body = typed.urlencode()
        if len(body) <= LONGEST_HELD:
            request.session[HELD] = {"path": request.path, "body": body}


class LogInRequired(LoginRequiredMiddleware):
    """Every page needs a log-in. A part of a page sends the whole page there: no log-in form inside a table cell."""

    def handle_no_permission(self, request: HttpRequest, view_func: Callable[..., HttpResponseBase]) -> Any:
        hx = getattr(request, "htmx", None)
        if not hx or hx.boosted:
            return super().handle_no_permission(request, view_func)
        page = hx.current_url_abs_path or "/"
        return HttpResponseClientRedirect(redirect_to_login(page, self.get_login_url(view_func)).url)


class SayRefusals:
    """A refusal that no form caught becomes a page that says what, why and how to mend it.

    So does an address that only takes what a form sends, when somebody looks at it: after a log-in that was lost they
    are led there, and what they had typed stands on the page, to be sent again.
    """

    def __init__(self, get_response: Next) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        hx = getattr(request, "htmx", None)
        if response.status_code != 405 or response.content or request.method != "GET" or hx:
            return response
        page = render(request, "405.html", {"typed": _held_for(request)}, status=405)
        page.headers["Allow"] = response.headers.get("Allow", "")
        return page

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if isinstance(exception, Refused):
            return render(request, "refused.html", {"refused": exception}, status=exception.status)
        return None


def _held_for(request: HttpRequest) -> list[tuple[str, str]]:
    """What was typed for this address before the log-in was lost: (name, value) of each field."""
    held = request.session.get(HELD) or {}
    if held.get("path") != request.path:
        return []
    typed = QueryDict(held["body"])
    return [(name, value) for name, values in typed.lists() for value in values]


class NoFileWithoutEnd(FileUploadHandler):
    """Reads on past the largest file anybody sends, and keeps nothing of it; ``request.too_large`` has its name.

    What one page takes is smaller and is said there; this is what a disk is saved from.
    """

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        super().new_file(*args, **kwargs)
        self.count = 0

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes:
        self.count += len(raw_data)
        if self.count > settings.LARGEST_UPLOAD:
            request: Any = self.request
            request.too_large = [*getattr(request, "too_large", []), self.file_name or "A file"]
            raise SkipFile
        return raw_data

    def file_complete(self, file_size: int) -> None:
        """The handlers behind this one make the file."""


class AlwaysHide(SafeExceptionReporterFilter):
    """What is marked as sensitive is hidden with DEBUG on too: customers' passwords pass through here."""

    def is_active(self, request: HttpRequest | None) -> bool:
        return True
