"""What a bench computer may tell and ask. Loaded by the door at the first call, since django-ninja takes a second."""

from __future__ import annotations

import copy
from functools import cache
from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest
from django.urls import URLResolver
from django.urls.resolvers import RegexPattern
from ninja import Header, Status

from labcases.api import actions, queries
from labcases.api.models import BenchComputer
from labcases.api.views import bodies, problems, schemas, transfers
from labcases.api.views.ground import WRONG, allowed, api, invalid, item_of, said_of
from labcases.bench.actions import note_step as bench_note_step
from labcases.bench.reading.actions import Noted, note_progress
from labcases.core import text
from labcases.core.clock import rfc3339

PREFIX = "/api/v1/"
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


api.add_router("", transfers.router)
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
