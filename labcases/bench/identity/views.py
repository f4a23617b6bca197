"""Reading who a patient is, and what follows from it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from labcases.bench.forms import BecauseForm
from labcases.bench.identity.actions import read_at_bench
from labcases.bench.identity.actions import remove_chip as take_off
from labcases.bench.identity.forms import AnswerForm, IdentifyForm, RemoveChipForm
from labcases.cases.models import Item
from labcases.cases.queries import item_for, known_serials
from labcases.cases.readings import actions
from labcases.cases.readings.comparing import NAMES, open_lines
from labcases.cases.readings.models import Reading
from labcases.core.views import bound, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])
HEAT = "Hot air, solvents and flux: extraction, and your local safety rules. A discharge kills a chip: strap and mat."
AGAIN = "Read it, and write nothing: identify commands change nothing on a medium."


def _page(item: Item, title: str, form: Any, **more: Any) -> dict[str, Any]:
    about = {"title": title, "form": form, "about": item, "about_words": item.medium_words, "place": "Bench"}
    return about | more


@GET_OR_POST
@needs(Right.EXAMINE)
def identify(request: StaffRequest, code: str) -> HttpResponse:
    """What does it say of itself?"""
    item = item_for(request.user, code)
    form = bound(request, IdentifyForm)

    def act(said: dict[str, Any]) -> Reading:
        return read_at_bench(item=item, read=form.read, by=request.actor, happened=said["happened"])

    if done := press(request, form, f"identify {item.thing.code}", act):
        return done
    noted = [(NAMES[name], getattr(item, name)) for name in NAMES if getattr(item, name)]
    told = item.no_power_because
    context = _page(item, "Read who it is", form, noted=noted, lead=AGAIN, told=told, button="Compare with intake")
    return show(request, "bench/identify.html", context)


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.EXAMINE)
def reading(request: StaffRequest, code: str, pk: int) -> HttpResponse:
    """One reading beside what was noted; what differs is answered here."""
    item = item_for(request.user, code)
    read = get_object_or_404(Reading.objects.select_related("item", "by", "lifted_by"), pk=pk, item=item)
    lines = actions.lines_of(read)
    form = bound(request, AnswerForm, lines=open_lines(lines))

    def act(said: dict[str, Any]) -> Item:
        about = {"by": request.actor, "happened": said["happened"], "because": said["because"]}
        actions.answer(reading=read, answers=form.answers(), **about)
        return item

    if done := press(request, form, f"answer {read.pk}", act):
        messages.success(request, "What differed is answered, and on record.")
        return done
    known = known_serials(read.said.get("serial", ""), owner=item.case.owner, leave_out=item.thing)
    context = {"reading": read, "item": item, "lines": lines, "form": form, "known": known, "place": "Bench"}
    return show(request, "bench/reading.html", context)


@require_GET
@needs(Right.EXAMINE)
def answer_identity(request: StaffRequest, code: str) -> HttpResponse:
    """The newest reading of an item, or a first one."""
    item = item_for(request.user, code)
    newest = Reading.objects.filter(item=item).newest_first().first()
    where = newest.get_absolute_url() if newest else reverse("bench:identify", args=[item.thing.printed_code])
    return redirect(where)


@GET_OR_POST
@needs(Right.LIFT_STOP)
def lift_wrong_item(request: StaffRequest, code: str) -> HttpResponse:
    """A manager lets it go on, with a reason."""
    item = item_for(request.user, code)
    form = bound(request, BecauseForm)

    def act(said: dict[str, Any]) -> Item:
        return actions.lift_wrong_item(item=item, by=request.actor, happened=said["happened"], because=said["because"])

    if done := press(request, form, f"lift-wrong-item {item.thing.code}", act):
        return done
    lead = "It was stopped as the wrong item. Say why it is the right one after all, or what was done about it."
    return show(request, "verb.html", _page(item, "Lift the stop", form, lead=lead, danger=True))


@GET_OR_POST
@needs(Right.EXAMINE)
def remove_chip(request: StaffRequest, code: str) -> HttpResponse:
    """A chip becomes an item of its own."""
    item = item_for(request.user, code)
    form = bound(request, RemoveChipForm)

    def act(said: dict[str, Any]) -> Item:
        about = {name: said[name] for name in ("words", "serial", "change", "happened")}
        return take_off(item=item, by=request.actor, **about)

    if done := press(request, form, f"remove-chip {item.thing.code}", act):
        messages.success(request, "The chip is an item of its own. Print its label from the thing's page.")
        return done
    lead = "It gets a code of its own below its patient's, and goes back with it."
    return show(request, "verb.html", _page(item, "Take a chip off", form, lead=lead, cautions=[HEAT]))
