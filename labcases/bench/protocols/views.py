"""The pages of the bench order: one patient's, and the protocols of the lab."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from labcases.bench.protocol_defaults import DEFAULTS, KINDS, kind_of
from labcases.bench.protocol_words import as_read
from labcases.bench.protocols import actions, queries
from labcases.bench.protocols.forms import MoveForm, OrderForm, ReasonForm
from labcases.bench.protocols.models import KeptProtocol, OrderNote, ProtocolVersion
from labcases.cases.models import Item
from labcases.cases.queries import item_for
from labcases.core.views import bound, csv_file, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])
A_PAGE = 50
PAGES = {  # where each verb of a step is done
    "examine": ("bench:examine", "Record findings"),
    "identify": ("bench:identify", "Read who it is"),
    "keep-dump": ("bench:keep-dump", "Keep a dump"),
    "assign-donor": ("stock:assign-donor", "Find a donor part"),
    "assign-destination": ("stock:assign-destination", "Find a destination"),
    "start-work": ("bench:start-work", "Start the work"),
    "remove-chip": ("bench:remove-chip", "Take a chip off"),
    "note-step": ("bench:note-step", "Note a step"),
    "record-result": ("bench:record-result", "Record the result"),
    "map-heads": ("bench:heads", "Heads by sector"),
    "find-array": ("bench:array", "How the array was put together"),
}
OF_CASE = ("find-array",)  # done for a whole case


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.EXAMINE)
def order(request: StaffRequest, code: str) -> HttpResponse:
    """The whole order of one patient: what is asked is answered here, several at once, one tap each."""
    item = item_for(request.user, code)
    (found,) = queries.order_of([item])
    form = bound(request, OrderForm, judgement=found.judgement)

    def act(said: dict[str, Any]) -> Item:
        actions.answer(item=item, answers=form.answers(), by=request.actor, happened=said["happened"])
        return item

    if done := press(request, form, f"bench-order {item.thing.code}", act):
        messages.success(request, "Noted in the bench order.")
        return done
    context = {"item": item, "order": found, "form": form, "rows": _rows(found, form, item), "place": "Bench"}
    return show(request, "bench/order.html", context)


def _rows(found: queries.ItemOrder, form: OrderForm, item: Item) -> list[dict[str, Any]]:
    names = {key: name for name, key in form.named.items()}
    return [_row(line, form, names, item) for line in found.lines]


def _row(line: queries.OrderLine, form: OrderForm, names: dict[str, str], item: Item) -> dict[str, Any]:
    step = line.state.step
    keys = [step.key, *(step.stop_key(stop) for stop in step.stops)]
    page, button = PAGES.get(step.verb, ("", ""))
    free = not line.state.standing and line.state.state not in ("done", "passed by")
    about = item.case.thing if step.verb in OF_CASE else item.thing
    return {
        "line": line,
        "fields": [form[names[key]] for key in keys if key in names],
        "address": reverse(page, args=[about.printed_code]) if page and free else "",
        "button": button,
    }


@GET_OR_POST
@needs(Right.LIFT_STOP)
def lift(request: StaffRequest, code: str, key: str) -> HttpResponse:
    """A manager lifts a step or a stop of the order, with a reason."""
    item = item_for(request.user, code)
    (found,) = queries.order_of([item])
    standing = actions.liftable(found.judgement).get(key)
    if standing is None and request.method != "POST":
        raise Http404("Nothing of this kind stands in the way any more.")
    form = bound(request, ReasonForm)

    def act(said: dict[str, Any]) -> Item:
        actions.lift(item=item, key=key, because=said["because"], by=request.actor, happened=said["happened"])
        return item

    if done := press(request, form, f"lift {item.thing.code} {key}"[:60], act):
        return done
    lead = standing.because if standing else ""
    return show(request, "verb.html", _page(item, "Lift the stop", form, lead=lead, danger=True))


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.EXAMINE)
def take_back(request: StaffRequest, code: str, pk: int) -> HttpResponse:
    """What was noted does not hold any more."""
    item = item_for(request.user, code)
    note = get_object_or_404(OrderNote.objects.standing().filter(item=item), pk=pk)
    form = bound(request, ReasonForm)

    def act(said: dict[str, Any]) -> Item:
        actions.take_back(item=item, key=note.key, because=said["because"], by=request.actor, happened=said["happened"])
        return item

    if done := press(request, form, f"take-back {pk}", act):
        return done
    lead = f"It stands as: {note.get_how_display()}{', ' if note.because else ''}{note.because}. That stays on record."
    return show(request, "verb.html", _page(item, "Take it back", form, lead=lead))


@GET_OR_POST
@needs(Right.LIFT_STOP)
def move(request: StaffRequest, code: str) -> HttpResponse:
    """A patient goes by another version."""
    item = item_for(request.user, code)
    kept = KeptProtocol.objects.filter(item=item).select_related("version").first()
    form = bound(request, MoveForm, own=kind_of(item.kind, item.nature), leave_out=kept.version if kept else None)

    def act(said: dict[str, Any]) -> Item:
        version = actions.version_named(said["version"], said["happened"])
        actions.move_to(
            item=item, version=version, because=said["because"], by=request.actor, happened=said["happened"]
        )
        return item

    if done := press(request, form, f"move-protocol {item.thing.code}", act):
        return done
    now = f"It goes by: {kept.version}." if kept else "It goes by the newest version of its kind."
    lead = f"{now} What is noted stays noted; steps of the new version that nobody noted are open."
    return show(request, "verb.html", _page(item, "Move it to another version", form, lead=lead))


def _page(item: Item, title: str, form: Any, **more: Any) -> dict[str, Any]:
    about = {"title": title, "form": form, "about": item, "about_words": item.medium_words, "place": "Bench"}
    return about | more


@require_GET
@needs(Right.LOOK)
def protocols(request: StaffRequest) -> HttpResponse:
    """Every kind of medium with its order."""
    months = queries.liftings_by_month() if request.user.rights & {Right.LIFT_STOP} else []
    context = {"rows": queries.kinds(), "months": months, "place": "Bench"}
    return show(request, "bench/protocols.html", context)


@require_GET
@needs(Right.LOOK)
def protocol(request: StaffRequest, kind: str) -> HttpResponse:
    """One protocol, its newest version or the one asked for with ``?version=``."""
    if kind not in KINDS:
        raise Http404("There is no protocol of this kind.")
    versions = list(ProtocolVersion.objects.filter(kind=kind).select_related("by"))
    asked = request.GET.get("version", "")
    shown = next((version for version in versions if str(version.number) == asked), versions[0] if versions else None)
    steps = queries.protocol_of(shown) if shown else DEFAULTS[kind]
    context = {"kind": kind, "words": KINDS[kind], "version": shown, "versions": versions, "place": "Bench"}
    return show(request, "bench/protocol.html", context | {"steps": as_read(steps)})


@require_GET
@needs(Right.LOOK)
def liftings(request: StaffRequest) -> HttpResponseBase:
    """What was lifted, newest first, with the counts of each month."""
    rows = queries.liftings()
    if request.GET.get("format") == "csv":
        head = ["when", "case", "thing", "who", "what and why"]
        listed = queries.worded(rows)
        return csv_file("liftings", head, ([*_cells(row)] for row in listed))
    page = Paginator(rows, A_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "rows": queries.worded(page), "months": queries.liftings_by_month(), "place": "Bench"}
    return show(request, "bench/liftings.html", context)


def _cells(row: queries.Lifting) -> list[str]:
    when = timezone.localtime(row.event.happened).isoformat(timespec="minutes")
    return [when, row.event.case_code or "", row.event.thing_code or "", row.by, row.because]
