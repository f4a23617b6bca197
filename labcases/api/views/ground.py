"""The ground of the interface: who asks, about which item, and everything that is wrong said as a problem."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from django.core.exceptions import RequestDataTooBig
from django.http import Http404, HttpRequest, HttpResponse, UnreadablePostError
from ninja import NinjaAPI
from ninja.errors import AuthenticationError, HttpError, ValidationError
from ninja.parser import Parser
from ninja.security import HttpBearer

from labcases.api import actions, spanfile
from labcases.api.models import BenchComputer
from labcases.api.views import problems
from labcases.api.views.problems import Problem
from labcases.bench.files.source import ListError
from labcases.bench.spans import BadSpan
from labcases.cases.models import Item
from labcases.cases.queries import item_for
from labcases.core.refused import Refused

WRONG = frozenset({400, 401, 403, 404, 409, 413, 415, 422, 429})


class JsonOnly(Parser):
    """Takes what says that it is JSON."""

    def parse_body(self, request: HttpRequest) -> Any:
        if request.content_type != "application/json":
            said = f"This address takes application/json, not {request.content_type or 'a body that does not say'}."
            raise Problem("media-type", said)
        return super().parse_body(request)


class Token(HttpBearer):
    """The token of a bench computer that is still admitted; wrong ones are counted."""

    def __call__(self, request: HttpRequest) -> BenchComputer:
        found = super().__call__(request)
        if isinstance(found, BenchComputer):
            return found
        if actions.knocked(request.META.get("REMOTE_ADDR", "")):
            raise Problem("too-many-tries", "Too many wrong tokens came from this address. Look which one is right.")
        raise AuthenticationError

    def authenticate(self, request: HttpRequest, token: str) -> BenchComputer | None:
        found = BenchComputer.objects.admitted().filter(digest=actions.digest_of(token)).first()
        if found:
            actions.seen(found)
        return found


api = NinjaAPI(
    title="Labcases, interface for bench computers",
    version="1",
    description="What a bench computer tells the lab and asks it. What is no success is a problem (RFC 9457).",
    auth=Token(),
    parser=JsonOnly(),
    docs_url=None,
    openapi_url=None,
    urls_namespace="bench-computers",
)


def allowed(request: HttpRequest, scope: str) -> BenchComputer:
    """The computer that asks, if its token was made for this."""
    computer: BenchComputer = request.auth  # type: ignore[attr-defined]
    if scope not in computer.scopes:
        raise Problem("not-in-scope", f"The token of {computer.name} was not made for {scope}.")
    return computer


def item_of(code: str) -> Item:
    if "\x00" in code:
        raise Http404("No code holds such a character.")
    return item_for(None, code)  # type: ignore[arg-type]


def said_of(item: Item) -> str:
    return str(item.thing.printed_code)


# --- what is wrong, as problems ---------------------------------------------------------------------------------------


def invalid(where: str, what: str) -> Problem:
    return Problem("invalid", what, errors=[{"where": where, "what": what}])


def handles(kind: type[Exception]) -> Callable[[Callable[[HttpRequest, Any], HttpResponse]], Any]:
    handler: Callable[..., Any] = api.exception_handler(kind)
    return handler


@handles(Problem)
def _problem(request: HttpRequest, problem: Problem) -> HttpResponse:
    headers = {"Retry-After": str(int(actions.STRETCH.total_seconds()))} if problem.name == "too-many-tries" else {}
    return problems.answer(problem.name, problem.detail, headers=headers, **problem.more)


@handles(AuthenticationError)
def _no_token(request: HttpRequest, error: AuthenticationError) -> HttpResponse:
    said = "Send the token of a bench computer: Authorization: Bearer …; a manager makes one in The lab."
    return problems.answer("no-token", said, headers={"WWW-Authenticate": "Bearer"})


@handles(Http404)
def _not_found(request: HttpRequest, error: Http404) -> HttpResponse:
    return problems.answer("not-found", str(error) or "There is no such thing.")


@handles(Refused)
def _refused(request: HttpRequest, refused: Refused) -> HttpResponse:
    name = {403: "not-in-scope", 507: "no-room"}.get(refused.status, "refused")
    return problems.answer(name, " ".join(refused.sentences()))


@handles(ValidationError)
def _not_valid(request: HttpRequest, error: ValidationError) -> HttpResponse:
    errors = [{"where": ".".join(map(str, one["loc"])), "what": str(one["msg"])} for one in error.errors]
    return problems.answer("invalid", f"{errors[0]['where']}: {errors[0]['what']}.", errors=errors)


@handles(BadSpan)
@handles(spanfile.BadSpanFile)
@handles(ListError)
def _bad_rows(request: HttpRequest, error: ValueError) -> HttpResponse:
    return bad_rows(f"{error} Nothing was kept.")


def bad_rows(sentence: str) -> HttpResponse:
    """A sentence that may begin with the row at fault, as a problem that names it."""
    row = re.match(r"Row (\d+):", sentence)
    where = f"row {row[1]}" if row else "file"
    return problems.answer("invalid", sentence, errors=[{"where": where, "what": sentence}])


@handles(HttpError)
def _http_error(request: HttpRequest, error: HttpError) -> HttpResponse:
    """django-ninja wraps whatever its parser raises."""
    cause = error.__cause__
    if isinstance(cause, Problem):
        return problems.answer(cause.name, cause.detail, **cause.more)
    if isinstance(cause, RequestDataTooBig):
        return problems.answer("too-large", "This body is too large for this address.")
    return problems.answer("unreadable", "The body is no JSON.")


@handles(RequestDataTooBig)
def _too_big(request: HttpRequest, error: RequestDataTooBig) -> HttpResponse:
    return problems.answer("too-large", "This body is too large for this address.")


@handles(UnreadablePostError)
def _cut_off(request: HttpRequest, error: UnreadablePostError) -> HttpResponse:
    return problems.answer("unreadable", "The connection was cut before all of it came. Nothing was kept.")
