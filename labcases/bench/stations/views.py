"""The pages of stations: what runs where, and equipment."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from labcases.bench.records import queries as records
from labcases.bench.stations import actions, queries
from labcases.bench.stations.forms import BeginForm, EndForm, EquipmentForm, MomentForm, PowerCutForm, WatchForm
from labcases.bench.stations.models import Equipment, Session
from labcases.cases.queries import item_for
from labcases.core.views import bound, csv_file, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])


@require_GET
@needs(Right.LOOK)
def stations(request: StaffRequest) -> HttpResponse:
    """Every port and what runs on it."""
    return show(request, "bench/stations.html", {"rows": queries.ports(), "place": "Bench"})


@require_GET
@needs(Right.LOOK)
def running(request: StaffRequest) -> HttpResponseBase:
    """What had power at a moment: the list to print after a power cut."""
    form = MomentForm(request.GET)
    moment = form.moment()
    sessions = queries.ran_at(moment)
    if request.GET.get("format") == "csv":
        head = ["machine", "port", "patient", "since", "what it does", "looked at by"]
        rows = ([s.port.equipment, s.port.name, s.item, _when(s.happened), s.doing, s.watcher or ""] for s in sessions)
        return csv_file("running", head, rows)
    return show(request, "bench/running.html", {"sessions": sessions, "moment": moment, "form": form, "place": "Bench"})


def _when(moment: Any) -> str:
    return timezone.localtime(moment).isoformat(timespec="minutes")


@GET_OR_POST
@needs(Right.EXAMINE)
def begin(request: StaffRequest, code: str) -> HttpResponse:
    """A patient gets power on a port."""
    item = item_for(request.user, code)
    form = bound(request, BeginForm, item=item)

    def act(said: dict[str, Any]) -> str:
        about = {name: said[name] for name in ("port", "doing", "watcher", "happened")}
        actions.begin(item=item, by=request.actor, **about)
        return reverse("bench:stations")

    if done := press(request, form, f"begin {item.thing.code}", act):
        return done
    about = {"title": "Put it on a port", "form": form, "about": item, "about_words": item.medium_words}
    return show(request, "verb.html", about | {"place": "Bench", "lead": "From now on it counts as under power."})


@GET_OR_POST
@needs(Right.EXAMINE)
def end(request: StaffRequest, pk: int) -> HttpResponse:
    """It has no power any more."""
    session = get_object_or_404(Session.objects.running().with_context(), pk=pk)
    form = bound(request, EndForm)

    def act(said: dict[str, Any]) -> str:
        about = {name: said[name] for name in ("ending", "hands_on", "happened")}
        actions.end(session=session, by=request.actor, **about)
        return reverse("bench:stations")

    if done := press(request, form, f"end session {pk}", act):
        return done
    lead = f"It has run on {session.port} for {session.machine_words}."
    return show(request, "verb.html", _page(session, "Take it off its port", form, lead))


@GET_OR_POST
@needs(Right.EXAMINE)
def power_cut(request: StaffRequest) -> HttpResponse:
    """The power went: whatever ran has none any more."""
    form = bound(request, PowerCutForm)

    def act(said: dict[str, Any]) -> str:
        actions.power_went(sessions=list(said["sessions"]), by=request.actor, happened=said["happened"])
        return reverse("bench:stations")

    if done := press(request, form, "power-cut", act):
        return done
    lead = "Print what was running first. Look at each patient before it gets power again: it went down without a word."
    context = {"title": "The power went", "form": form, "lead": lead, "button": "End them all", "place": "Bench"}
    return show(request, "verb.html", context | {"back": reverse("bench:running")})


@GET_OR_POST
@needs(Right.EXAMINE)
def watch(request: StaffRequest, pk: int) -> HttpResponse:
    """Who looks at it tonight."""
    session = get_object_or_404(Session.objects.running().with_context(), pk=pk)
    form = bound(request, WatchForm, initial={"watcher": session.watcher_id})

    def act(said: dict[str, Any]) -> str:
        actions.watch(session=session, watcher=said["watcher"], by=request.actor, happened=said["happened"])
        return reverse("bench:stations")

    if done := press(request, form, f"watch session {pk}", act):
        return done
    return show(
        request, "verb.html", _page(session, "Say who looks at it tonight", form, f"It runs on {session.port}.")
    )


def _page(session: Session, title: str, form: Any, lead: str) -> dict[str, Any]:
    item = session.item
    about = {"title": title, "form": form, "about": item, "about_words": item.medium_words}
    return about | {"lead": lead, "place": "Bench"}


@require_GET
@needs(Right.LOOK)
def equipments(request: StaffRequest) -> HttpResponseBase:
    """The lab's machines and tools, with what is due."""
    rows = records.equipment_rows()
    if request.GET.get("format") == "csv":
        head = ["name", "kind", "serial", "ports", "due", "overdue"]
        listed = ([r.equipment, r.equipment.kind, r.equipment.serial, r.ports, r.due or "", r.overdue] for r in rows)
        return csv_file("equipment", head, listed)
    return show(request, "bench/equipments.html", {"rows": rows, "place": "Bench"})


@GET_OR_POST
@needs(Right.EXAMINE)
def keep_equipment(request: StaffRequest) -> HttpResponse:
    form = bound(request, EquipmentForm)

    def act(said: dict[str, Any]) -> Equipment:
        about = {name: said[name] for name in ("name", "kind", "serial", "ports", "note")}
        return actions.keep_equipment(by=request.actor, happened=timezone.now(), **about)

    if done := press(request, form, "keep-equipment", act):
        return done
    context = {"title": "Add equipment", "form": form, "place": "Bench"}
    return show(request, "verb.html", context | {"back": reverse("bench:equipments")})
