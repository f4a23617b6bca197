"""The pages of the lab's own records."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from labcases.bench.records import actions, queries
from labcases.bench.records.forms import CloseForm, CompetenceForm, LogForm, MishapForm
from labcases.bench.records.models import Competence, Mishap
from labcases.bench.stations.models import Equipment
from labcases.core.forms import LabForm
from labcases.core.views import bound, csv_file, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])
A_PAGE = 50


def _day(moment: Any) -> str:
    return timezone.localtime(moment).date().isoformat() if moment else ""


@require_GET
@needs(Right.LOOK)
def equipment(request: StaffRequest, pk: int) -> HttpResponseBase:
    """One machine, its ports and its log."""
    found = get_object_or_404(Equipment.objects.select_related("by"), pk=pk)
    lines = found.log.select_related("by", "equipment")
    if request.GET.get("format") == "csv":
        head = ["day", "what", "particles per cubic metre", "note", "due again", "who"]
        rows = ([_day(x.happened), x.what, x.particles, x.note, x.next_due or "", x.by] for x in lines)
        return csv_file("equipment-log", head, rows)
    row = next((row for row in queries.equipment_rows() if row.equipment.pk == pk), None)
    page = Paginator(lines, A_PAGE).get_page(request.GET.get("page"))
    return show(request, "bench/equipment.html", {"equipment": found, "row": row, "page": page, "place": "Bench"})


@GET_OR_POST
@needs(Right.EXAMINE)
def log(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Equipment, pk=pk)
    form = bound(request, LogForm)

    def act(said: dict[str, Any]) -> Equipment:
        said.pop("once")
        actions.log(equipment=found, by=request.actor, **said)
        return found

    if done := press(request, form, f"log {pk}", act):
        return done
    context = {"title": f"Log: {found}", "button": "Write it down", "form": form, "place": "Bench"}
    return show(request, "verb.html", context | {"back": found.get_absolute_url()})


@require_GET
@needs(Right.LOOK)
def competences(request: StaffRequest) -> HttpResponseBase:
    """Who may do which kind of work."""
    rows = Competence.objects.filter(ended=None, person__is_active=True).select_related("person", "by")
    if request.GET.get("format") == "csv":
        head = ["who", "work", "since", "shown by", "look again"]
        listed = ([c.person, c.work, _day(c.happened), c.shown_by, c.look_again or ""] for c in rows)
        return csv_file("competence", head, listed)
    context = {"rows": list(rows), "today": timezone.localdate(), "place": "Bench"}
    return show(request, "bench/competences.html", context)


@GET_OR_POST
@needs(Right.KEEP_LAB)
def note_competence(request: StaffRequest) -> HttpResponse:
    form = bound(request, CompetenceForm)

    def act(said: dict[str, Any]) -> str:
        said.pop("once")
        actions.note_competence(by=request.actor, **said)
        return reverse("bench:competences")

    if done := press(request, form, "note-competence", act):
        return done
    context = {"title": "Note what somebody may do", "form": form, "place": "Bench"}
    return show(request, "verb.html", context | {"back": reverse("bench:competences")})


@GET_OR_POST
@needs(Right.KEEP_LAB)
def end_competence(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Competence.objects.filter(ended=None).select_related("person"), pk=pk)
    form = bound(request, LabForm)

    def act(said: dict[str, Any]) -> str:
        actions.end_competence(competence=found, by=request.actor, happened=timezone.now())
        return reverse("bench:competences")

    if done := press(request, form, f"end-competence {pk}", act):
        return done
    about = {
        "title": "End it",
        "lead": f"{found}. From today it no longer counts; that it did stays on record.",
        "form": form,
        "back": reverse("bench:competences"),
        "place": "Bench",
    }
    return show(request, "verb.html", about)


@require_GET
@needs(Right.LOOK)
def mishaps(request: StaffRequest) -> HttpResponseBase:
    """Work that went wrong, newest first."""
    rows = Mishap.objects.select_related("by", "closed_by", "item__thing", "item__case__thing")
    asked = request.GET.get("kind", "")
    rows = rows.filter(kind=asked) if asked in Mishap.Kind.values else rows
    if request.GET.get("format") == "csv":
        head = ["day", "kind", "item", "what", "why", "done", "closed"]
        listed = ([_day(m.happened), m.kind, m.item or "", m.what, m.why, m.done, _day(m.closed)] for m in rows)
        return csv_file("went-wrong", head, listed)
    page = Paginator(rows, A_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "kinds": Mishap.Kind.choices, "kind": asked, "place": "Bench"}
    return show(request, "bench/mishaps.html", context)


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.TELL)
def note_mishap(request: StaffRequest) -> HttpResponse:
    form = bound(request, MishapForm, initial={"code": request.GET.get("item", "")})

    def act(said: dict[str, Any]) -> Mishap:
        about = {name: said[name] for name in ("kind", "what", "why", "done", "happened")}
        return actions.note_mishap(item=form.item, by=request.actor, **about)

    if done := press(request, form, "note-mishap", act):
        return done
    lead = "Write it down as soon as it is seen. Nobody is blamed here; the next one is spared."
    context = {"title": "Note what went wrong", "lead": lead, "form": form, "place": "Bench"}
    return show(request, "verb.html", context | {"back": reverse("bench:mishaps")})


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.LIFT_STOP)
def mishap(request: StaffRequest, pk: int) -> HttpResponse:
    """One of them; a manager closes it here."""
    rows = Mishap.objects.select_related("by", "closed_by", "item__thing", "item__case__thing")
    found = get_object_or_404(rows, pk=pk)
    form = bound(request, CloseForm, initial={"why": found.why, "done": found.done})

    def act(said: dict[str, Any]) -> Mishap:
        about = {name: said[name] for name in ("why", "done", "happened")}
        return actions.close_mishap(mishap=found, by=request.actor, **about)

    if done := press(request, form, f"close-mishap {pk}", act):
        return done
    return show(request, "bench/mishap.html", {"mishap": found, "form": form, "place": "Bench"})
