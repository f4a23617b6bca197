"""The verbs of the bench, one address each."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpResponse
from django.views.decorators.http import require_http_methods

from labcases.bench import actions, cautions
from labcases.bench.files.queries import result_from
from labcases.bench.forms import BecauseForm, ExaminationForm, HappenedForm, ResultForm, StepForm
from labcases.bench.reading.queries import facts
from labcases.cases.models import Item
from labcases.cases.queries import item_for
from labcases.core.views import bound, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])


@GET_OR_POST
@needs(Right.EXAMINE)
def examine(request: StaffRequest, code: str) -> HttpResponse:
    """Record findings."""
    item = item_for(request.user, code)
    form = bound(request, ExaminationForm, item=item)
    if done := press(request, form, "examine", lambda said: _at_bench(actions.examine, item, request, said)):
        return done
    told = item.no_power_because
    lead = f"No power before it was inspected inside: {' and '.join(told)}." if told else ""
    soiled = any(word in reason for word in ("wet", "liquid", "fire", "burn") for reason in told)
    helium = "helium" in item.nature
    said = cautions.before_looking(kind=item.kind, spinning=item.spinning, helium=helium, soiled=soiled)
    context = _page(item, "Record findings", form) | {"lead": lead, "cautions": said}
    return show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.EXAMINE)
def start_work(request: StaffRequest, code: str) -> HttpResponse:
    item = item_for(request.user, code)
    form = bound(request, HappenedForm)
    if done := press(request, form, "start-work", lambda said: _at_bench(actions.start_work, item, request, said)):
        return done
    lead = "Chargeable work begins. Authority must be on file, and a clean medium to copy to."
    context = _page(item, "Start the work", form) | {
        "lead": lead,
        "cautions": [cautions.NOISE] if item.spinning else [],
    }
    return show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.EXAMINE)
def note_step(request: StaffRequest, code: str) -> HttpResponse:
    """Write down what was done."""
    item = item_for(request.user, code)
    form = bound(request, StepForm)
    if done := press(request, form, "note-step", lambda said: _at_bench(actions.note_step, item, request, said)):
        return done
    return show(request, "verb.html", _page(item, "Note a step", form))


@GET_OR_POST
@needs(Right.EXAMINE)
def record_result(request: StaffRequest, code: str) -> HttpResponse:
    """What came of it."""
    item = item_for(request.user, code)
    known = facts([item]).get(item.pk, {})
    form = bound(
        request, ResultForm, item=item, initial={"sectors_read": known.get("coverage_read"), **result_from(item)}
    )

    def act(said: dict[str, Any]) -> Any:
        numbers, answers = form.numbers(), form.answers()
        actions.record_result(item=item, by=request.actor, happened=said["happened"], wanted=answers, **numbers)
        return item

    if done := press(request, form, "record-result", act):
        return done
    lead = "Open samples of each wanted kind first: a file name is not a file."
    return show(request, "verb.html", _page(item, "Record the result", form) | {"lead": lead})


@GET_OR_POST
@needs(Right.EXAMINE)
def make_ready(request: StaffRequest, code: str) -> HttpResponse:
    item = item_for(request.user, code)
    form = bound(request, HappenedForm)
    if done := press(request, form, "make-ready", lambda said: _at_bench(actions.make_ready, item, request, said)):
        return done
    lead = "The files are on their delivery medium, or there is nothing to deliver. The customer can be told."
    return show(request, "verb.html", _page(item, "Make it ready", form) | {"lead": lead})


@GET_OR_POST
@needs(Right.EXAMINE)
def send_back(request: StaffRequest, code: str) -> HttpResponse:
    """Back to examination."""
    item = item_for(request.user, code)
    form = bound(request, BecauseForm)
    if done := press(request, form, "send-back", lambda said: _at_bench(actions.send_back, item, request, said)):
        return done
    lead = "It is examined and quoted again; the earlier quote stays on file, superseded by the next one."
    return show(request, "verb.html", _page(item, "Back to examination", form) | {"lead": lead})


def _at_bench(verb: Callable[..., Any], item: Item, request: StaffRequest, said: dict[str, Any]) -> Item:
    """Run a verb of the bench with what the form said, and go to the item's docket."""
    said = {name: value for name, value in said.items() if name != "once"}
    verb(item=item, by=request.actor, **said)
    return item


def _page(item: Item, title: str, form: Any) -> dict[str, Any]:
    return {"title": title, "form": form, "about": item, "about_words": item.medium_words, "place": "Bench"}
