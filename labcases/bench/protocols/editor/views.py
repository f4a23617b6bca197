"""The editor of a protocol. Every press changes the draft; only publishing makes a version."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from labcases.bench.protocol import Grade, Protocol, Step, mistakes
from labcases.bench.protocol_defaults import DEFAULTS, KINDS
from labcases.bench.protocol_editing import fresh_key, moved, put, retired
from labcases.bench.protocol_record import as_record, from_record
from labcases.bench.protocol_words import as_read
from labcases.bench.protocols import actions, queries
from labcases.bench.protocols.forms import PublishForm, StepForm
from labcases.core.views import bound, press, see_other, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])


@dataclass(frozen=True)
class Draft:
    """The protocol as it is being written, and the number of the version it was written from."""

    protocol: Protocol
    seen: int
    changed: bool


def _draft(request: StaffRequest, kind: str) -> Draft:
    if kind not in KINDS:
        raise Http404("There is no protocol of this kind.")
    if kept := request.session.get(_key(kind)):
        return Draft(from_record(kind, kept["steps"]), kept["seen"], changed=True)
    last = queries.newest(kind)
    return Draft(queries.protocol_of(last) if last else DEFAULTS[kind], last.number if last else 0, changed=False)


def _keep(request: StaffRequest, draft: Draft, protocol: Protocol) -> None:
    request.session[_key(protocol.kind)] = {"seen": draft.seen, "steps": as_record(protocol)}


def _key(kind: str) -> str:
    return f"protocol-draft-{kind}"


def _editor(kind: str) -> str:
    return reverse("bench:edit-protocol", args=[kind])


@GET_OR_POST
@needs(Right.KEEP_LAB)
def edit(request: StaffRequest, kind: str) -> HttpResponse:
    """The draft with its mistakes and what it would change for open patients; sending it publishes the version."""
    draft = _draft(request, kind)
    form = bound(request, PublishForm)

    def act(said: dict[str, Any]) -> str:
        made = actions.publish(
            protocol=draft.protocol, seen=draft.seen, because=said["because"], by=request.actor, happened=timezone.now()
        )
        return made.get_absolute_url()

    if done := press(request, form, f"publish {kind}", act):
        request.session.pop(_key(kind), None)
        messages.success(request, "It is published. Patients that have begun keep the version they began with.")
        return done
    wrong = mistakes(draft.protocol)
    changes = [] if wrong else queries.what_would_change(draft.protocol)
    context = {
        "kind": kind, "words": KINDS[kind], "draft": draft, "form": form, "mistakes": wrong, "changes": changes,
        "differing": [change for change in changes if not change.alike],
        "again": reverse("bench:drop-protocol-draft", args=[kind]),
        "steps": as_read(draft.protocol),
        "place": "Bench",
    }  # fmt: skip
    return show(request, "bench/protocol_edit.html", context)


@GET_OR_POST
@needs(Right.KEEP_LAB)
def edit_step(request: StaffRequest, kind: str, key: str) -> HttpResponse:
    """One step as a form."""
    draft = _draft(request, kind)
    step = draft.protocol.step(key)
    if step is None:
        raise Http404("There is no such step in this protocol.")
    return _step_page(request, draft, step, "Change the step")


@GET_OR_POST
@needs(Right.KEEP_LAB)
def add_step(request: StaffRequest, kind: str) -> HttpResponse:
    """A new step, at the end."""
    return _step_page(request, _draft(request, kind), Step("", "", "", Grade.ASK), "Add a step")


def _step_page(request: StaffRequest, draft: Draft, step: Step, title: str) -> HttpResponse:
    form = bound(request, StepForm, step=step, protocol=draft.protocol)
    if request.method == "POST" and form.is_valid():
        made = form.made()
        if not made.key:
            taken = {other.key for other in draft.protocol.steps}
            made = Step(**{**_fields(made), "key": fresh_key(made.what, taken)})
        _keep(request, draft, put(draft.protocol, made))
        return see_other(request, f"{_editor(draft.protocol.kind)}#step-{made.key}")
    context = {"form": form, "title": title, "kind": draft.protocol.kind, "words": KINDS[draft.protocol.kind]}
    return show(request, "bench/protocol_step.html", context | {"place": "Bench"})


def _fields(step: Step) -> dict[str, Any]:
    return {name: getattr(step, name) for name in Step.__dataclass_fields__}


def _changed(request: StaffRequest, kind: str, change: Callable[[Protocol], Protocol], at: str = "") -> HttpResponse:
    draft = _draft(request, kind)
    _keep(request, draft, change(draft.protocol))
    return see_other(request, f"{_editor(kind)}#step-{at}" if at else _editor(kind))


@require_POST
@needs(Right.KEEP_LAB)
def step_up(request: StaffRequest, kind: str, key: str) -> HttpResponse:
    return _changed(request, kind, lambda protocol: moved(protocol, key, -1), key)


@require_POST
@needs(Right.KEEP_LAB)
def step_down(request: StaffRequest, kind: str, key: str) -> HttpResponse:
    return _changed(request, kind, lambda protocol: moved(protocol, key, 1), key)


@require_POST
@needs(Right.KEEP_LAB)
def retire_step(request: StaffRequest, kind: str, key: str) -> HttpResponse:
    return _changed(request, kind, lambda protocol: retired(protocol, key))


@require_POST
@needs(Right.KEEP_LAB)
def drop_draft(request: StaffRequest, kind: str) -> HttpResponse:
    """Begin again from the newest version."""
    request.session.pop(_key(kind), None)
    return see_other(request, _editor(kind))
