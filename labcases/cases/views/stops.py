"""What holds a case: disputed ownership and orders of law, and their end."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from labcases.cases import actions, queries
from labcases.cases.forms.stops import StopForm
from labcases.cases.models import Case
from labcases.cases.views.either import acting_in_either
from labcases.core.views import bound, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.models import Actor
from labcases.lab.roles import Right


@dataclass(frozen=True)
class Verb:
    """One of the four: its name in addresses, its words, and the action."""

    name: str
    title: str
    says: str
    button: str
    act: Callable[..., Case]


DISPUTE = Verb(
    "dispute",
    "Ownership is disputed",
    "Nothing of this case is released until a manager notes that it is settled. Note who claims it, and how.",
    "Stop the release",
    actions.dispute,
)
SETTLE = Verb(
    "settle-dispute",
    "The dispute is settled",
    "Note who it belongs to now, and what shows it: a signed word of both, a court's decision.",
    "Lift the stop",
    actions.settle_dispute,
)
HOLD = Verb(
    "hold",
    "Held by law",
    "Stolen property, an order, unlawful content: stop, keep it safe, and follow local law and counsel. "
    "The record is kept here; it is no legal advice.",
    "Hold this case",
    actions.hold_by_law,
)
END_HOLD = Verb(
    "end-hold",
    "The hold has ended",
    "Note what ended it: who, which paper, which date.",
    "End the hold",
    actions.end_hold,
)


@require_GET
@needs(Right.LOOK)
def stop(request: StaffRequest, code: str) -> HttpResponse:
    """How the case stands, and which of the four may be done now."""
    case = queries.case_for(request.user, code)
    now = [SETTLE if case.disputed else DISPUTE, END_HOLD if case.legal_hold else HOLD]
    choices = [(verb, reverse(f"cases:{verb.name}", args=[case.thing.printed_code])) for verb in now]
    return show(request, "cases/stop.html", {"case": case, "choices": choices})


@require_http_methods(["GET", "POST"])
@needs(Right.TAKE_IN)
def dispute(request: StaffRequest, code: str) -> HttpResponse:
    return _one(request, code, DISPUTE, request.actor)


@require_http_methods(["GET", "POST"])
@needs(Right.LIFT_STOP)
def settle_dispute(request: StaffRequest, code: str) -> HttpResponse:
    return _one(request, code, SETTLE, request.actor)


@require_http_methods(["GET", "POST"])
@needs(Right.LOOK)
def hold(request: StaffRequest, code: str) -> HttpResponse:
    return _one(request, code, HOLD, acting_in_either(request.user, Right.TAKE_IN, Right.LIFT_STOP))


@require_http_methods(["GET", "POST"])
@needs(Right.LIFT_STOP)
def end_hold(request: StaffRequest, code: str) -> HttpResponse:
    return _one(request, code, END_HOLD, request.actor)


def _one(request: StaffRequest, code: str, verb: Verb, by: Actor) -> HttpResponse:
    case = queries.case_for(request.user, code)
    form = bound(request, StopForm)

    def act(said: dict[str, Any]) -> Case:
        return verb.act(case=case, by=by, happened=said["happened"], because=said["because"])

    if done := press(request, form, f"{verb.name} {case.code}", act):
        return done
    return show(request, "cases/stop_one.html", {"form": form, "case": case, "verb": verb})
