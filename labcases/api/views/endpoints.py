"""What a bench computer may tell and ask. Loaded by the door at the first call, since django-ninja takes a second."""

from __future__ import annotations

import copy
from collections.abc import Callable
from functools import cache
from typing import Any
from uuid import UUID

from django.core.exceptions import RequestDataTooBig
from django.http import Http404, HttpRequest, HttpResponse, UnreadablePostError
from django.urls import URLResolver
from django.urls.resolvers import RegexPattern
from ninja import Header, NinjaAPI, Path, Query, Status
from ninja.errors import AuthenticationError, HttpError, ValidationError
from ninja.parser import Parser
from ninja.security import HttpBearer

from labcases.api import actions, queries, spanfile
from labcases.api.models import BenchComputer, Transfer
from labcases.api.views import bodies, problems, schemas
from labcases.api.views.problems import Problem
from labcases.bench.actions import note_step as bench_note_step
from labcases.bench.reading.actions import Noted, note_progress
from labcases.bench.spans import BadSpan
from labcases.cases.models import Item
from labcases.cases.queries import item_for
from labcases.core import text
from labcases.core.clock import rfc3339
from labcases.core.refused import Refused

PREFIX = "/api/v1/"
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


KEY_WORDS = "a UUID of your own: the same step sent again is one step"
Key = Header(None, alias="Idempotency-Key", description=KEY_WORDS)  # type: ignore[type-arg]


@api.get("computer", response={200: schemas.Computer, WRONG: schemas.Problem}, operation_id="who_am_i", tags=["token"])
def who_am_i(request: HttpRequest) -> Any:
    """Whose token this is, and what it may do."""
    computer: BenchComputer = request.auth  # type: ignore[attr-defined]
    return {"name": computer.name, "scopes": computer.scopes}


@api.post(
    "items/{code}/steps",
    response={201: schemas.StepKept, WRONG: schemas.Problem},
    operation_id="note_step",
    tags=["steps"],
)
def note_step(request: HttpRequest, code: str, step: schemas.Step, key: UUID | None = Key) -> Any:
    """Note a step that was taken. The bench order may refuse it (409), with why and what lifts it."""
    computer, item = allowed(request, "steps"), item_of(code)
    about: dict[str, Any] = {"method": text.many_lines(step.method), "change": text.many_lines(step.change)}
    about["copied"] = step.copied
    what = text.many_lines(step.what)
    if not what:
        raise invalid("body.step.what", "Say what was done.")
    happened = bodies.moment(step.happened)

    def act() -> dict[str, Any]:
        made = bench_note_step(item=item, what=what, by=computer.actor, happened=happened, **about)
        return {"item": said_of(item), "step": made.pk, "happened": rfc3339(made.happened)}

    sent = [said_of(item), step.model_dump()]
    return Status(201, actions.once(computer=computer, key=key, sent=sent, act=act))


@api.post(
    "items/{code}/readings",
    response={200: schemas.ReadingsKept, WRONG: schemas.Problem},
    operation_id="note_readings",
    tags=["readings"],
)
def note_readings(request: HttpRequest, code: str, sent: schemas.Readings) -> Any:
    """Say how much had been read at which moments, for the forecast: all or none. A reading sent twice is one."""
    computer, item = allowed(request, "readings"), item_of(code)
    noted = [
        Noted(bodies.moment(one.at), one.sectors, one.pass_number, one.head, one.wanted_bytes) for one in sent.readings
    ]
    by, happened = computer.actor, max(one.at for one in noted)
    made, notes = note_progress(item=item, noted=noted, by=by, happened=happened, anew=sent.anew)
    return {"item": said_of(item), "kept": len(made), "notes": notes}


# --- coverage ---------------------------------------------------------------------------------------------------------

SPANS: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "description": "A piece of the file of spans, cut anywhere; may be packed with Content-Encoding: gzip.",
        "content": {kind: {"schema": {"type": "string"}} for kind in spanfile.KINDS},
    }
}
PartNumber = Path(..., ge=1, le=actions.MOST_PARTS)  # type: ignore[type-arg]
BEFORE = "bytes before this part, unpacked"
Offset = Query(None, ge=0, le=schemas.LARGEST, description=BEFORE)  # type: ignore[type-arg]
PART_WRONG = frozenset({400, 401, 403, 404, 409, 411, 413, 415, 422, 429})


@api.put(
    "items/{code}/coverage/{uuid:key}/parts/{int:number}",
    response={200: schemas.PartKept, 201: schemas.PartKept, PART_WRONG: schemas.Problem},
    operation_id="send_part",
    tags=["coverage"],
    openapi_extra=SPANS,
)
def send_part(
    request: HttpRequest,
    code: str,
    key: UUID,
    number: int = PartNumber,
    offset: int | None = Offset,
) -> Any:
    """Send a part of a file of spans under a key of your own, in any order. The same part again (200) does no harm."""
    computer, item = allowed(request, "coverage"), item_of(code)
    kind = request.content_type
    if kind not in spanfile.KINDS:
        raise Problem("media-type", f"Spans come as {' or '.join(spanfile.KINDS)}, not as {kind or 'nothing named'}.")
    data = bodies.whole(request, most=actions.MOST_PART)
    part, new = actions.take_part(
        computer=computer, item=item, key=key, number=number, data=data, kind=kind, offset=offset
    )
    return Status(201 if new else 200, {"part": part.number, "bytes": part.size, "sha256": part.digest})


@api.get(
    "items/{code}/coverage/{uuid:key}",
    response={200: schemas.Parts, WRONG: schemas.Problem},
    operation_id="what_is_there",
    tags=["coverage"],
)
def what_is_there(request: HttpRequest, code: str, key: UUID) -> Any:
    """Which parts are there already, to go on after a connection was cut."""
    transfer = _transfer(allowed(request, "coverage"), item_of(code), key)
    parts = [{"part": p.number, "bytes": p.size, "sha256": p.digest} for p in transfer.parts.all()]
    there = {part["part"] for part in parts}
    first = next(number for number in range(1, len(there) + 2) if number not in there)
    upload = transfer.upload.number if transfer.upload else None
    whole = sum(int(part["bytes"]) for part in parts)
    return {"item": said_of(transfer.item), "parts": parts, "bytes": whole, "next_part": first, "upload": upload}


@api.post(
    "items/{code}/coverage/{uuid:key}",
    response={200: schemas.Uploaded, 201: schemas.Uploaded, WRONG: schemas.Problem},
    operation_id="finish_coverage",
    tags=["coverage"],
)
def finish_coverage(request: HttpRequest, code: str, key: UUID, sent: schemas.Finish) -> Any:
    """All parts are there: lay their spans over what is known, all or none. Sent twice (200) it is one upload."""
    transfer = _transfer(allowed(request, "coverage"), item_of(code), key)
    about: dict[str, Any] = {"name": text.one_line(sent.name) or "sent by a bench computer", "head": sent.head}
    about |= {"pass_number": sent.pass_number, "verb": sent.verb, "because": text.many_lines(sent.because)}
    if sent.verb == "withdraw" and not about["because"]:
        raise invalid("body.sent.because", "Say why these sectors are taken back.")
    happened = bodies.moment(sent.happened)
    made, new = actions.finish(
        transfer=transfer, parts=sent.parts, sha256=sent.sha256, unit=sent.unit, about=about, happened=happened
    )
    said = {"item": said_of(transfer.item), "upload": made.number, "spans": made.rows, "notes": made.notes}
    said["worked_out"] = queries.is_worked_out(transfer.item)
    return Status(201 if new else 200, said)


def _transfer(computer: BenchComputer, item: Item, key: UUID) -> Transfer:
    found = Transfer.objects.select_related("upload", "computer").filter(computer=computer, key=key, item=item).first()
    if found is None:
        raise Http404(f"Nothing was sent of {said_of(item)} under the key {key}.")
    found.item = item
    return found


@api.get(
    "items/{code}/plan", response={200: schemas.Plan, WRONG: schemas.Problem}, operation_id="ask_plan", tags=["plan"]
)
def ask_plan(request: HttpRequest, code: str) -> Any:
    """What to read next, in order: the newest plan of the item."""
    allowed(request, "plan")
    item = item_of(code)
    plan = queries.newest_plan(item)
    if plan is None:
        raise Http404(f"Nobody has made a plan for {said_of(item)} yet.")
    return {
        "item": said_of(item),
        "plan": plan.number,
        "made": rfc3339(plan.happened),
        "sectors": plan.sectors,
        "spans": queries.spans_of(plan),
    }


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
    name = "not-in-scope" if refused.status == 403 else "refused"
    return problems.answer(name, " ".join(refused.sentences()))


@handles(ValidationError)
def _not_valid(request: HttpRequest, error: ValidationError) -> HttpResponse:
    errors = [{"where": ".".join(map(str, one["loc"])), "what": str(one["msg"])} for one in error.errors]
    return problems.answer("invalid", f"{errors[0]['where']}: {errors[0]['what']}.", errors=errors)


@handles(BadSpan)
@handles(spanfile.BadSpanFile)
def _bad_spans(request: HttpRequest, error: ValueError) -> HttpResponse:
    where = f"row {error.row}" if isinstance(error, BadSpan) and error.row else "file"
    return problems.answer("invalid", f"{error} Nothing was kept.", errors=[{"where": where, "what": str(error)}])


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


RESOLVER = URLResolver(RegexPattern(r"^"), [one for one in api.urls[0] if getattr(one, "name", "") != "api-root"])


@cache
def _document() -> dict[str, Any]:
    """What django-ninja draws up, with problems under their own media type."""
    said: dict[str, Any] = copy.deepcopy(dict(api.get_openapi_schema(path_prefix=PREFIX)))
    for path in said["paths"].values():
        for operation in path.values():
            for status, response in operation["responses"].items():
                if int(status) >= 400 and "content" in response:
                    response["content"] = {problems.KIND: response["content"].pop("application/json")}
                    response["description"] = next(t for s, t, _ in problems.PROBLEMS.values() if s == int(status))
    return said


def document() -> dict[str, Any]:
    return _document()
