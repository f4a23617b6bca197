"""One item: correct what was noted, or end its way with a reason."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.views.decorators.http import require_http_methods

from labcases.cases import actions, queries
from labcases.cases.forms.item import CorrectItemForm
from labcases.cases.forms.stops import EndItemForm
from labcases.cases.models import Item
from labcases.cases.stages import EDGES, EXITS, Stage
from labcases.cases.views.either import acting_in_either
from labcases.core.views import bound, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.models import Staff
from labcases.lab.roles import Right


def _item(user: Staff, code: str, number: int) -> Item:
    case = queries.case_for(user, code)
    item = Item.objects.with_context().filter(case=case, number=number).first()
    if item is None:
        raise Http404(f"Case {case} has no item {number}.")
    return item


@require_http_methods(["GET", "POST"])
@needs(Right.LOOK)
def edit_item(request: StaffRequest, code: str, number: int) -> HttpResponse:
    """Put right what was noted; the day-book keeps what stood there before."""
    by = acting_in_either(request.user, Right.TAKE_IN, Right.EXAMINE)
    item = _item(request.user, code, number)
    form = bound(request, CorrectItemForm, initial=CorrectItemForm.initial_of(item))

    def act(said: dict[str, Any]) -> Item:
        return actions.correct_item(
            item=item, changes=form.changes(item), by=by, happened=said["happened"], because=said["because"]
        )

    if done := press(request, form, f"edit-item {item.thing.code}", act):
        messages.success(request, f"What is noted of {item} is as you left it.")
        return done
    known = queries.known_serials(item.serial, owner=item.case.owner, leave_out=item.thing)
    return show(request, "cases/edit_item.html", {"form": form, "item": item, "known": known})


@require_http_methods(["GET", "POST"])
@needs(Right.LOOK)
def end_item(request: StaffRequest, code: str, number: int) -> HttpResponse:
    """Declined, unrecoverable, withdrawn or abandoned, with a reason. A handover still follows."""
    by = acting_in_either(request.user, Right.TAKE_IN, Right.EXAMINE)
    item = _item(request.user, code, number)
    exits = [exit_ for exit_ in EXITS if exit_ in EDGES[Stage(item.stage)]]
    form = bound(request, EndItemForm, exits=exits)

    def act(said: dict[str, Any]) -> Item:
        return actions.end_item(
            item=item, to=Stage(said["to"]), because=said["because"], by=by, happened=said["happened"]
        )

    if done := press(request, form, f"end-item {item.thing.code}", act):
        messages.success(request, f"{item} is {item.stage}. It still goes back to the customer, or stays by signature.")
        return done
    return show(request, "cases/end_item.html", {"form": form, "item": item, "exits": exits})
