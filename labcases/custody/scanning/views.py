"""Custody by scanning; what waits for one's word; one's PIN; badges; what the lab asks for."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from labcases.core import codes
from labcases.core.refused import Refused
from labcases.core.views import bound, page_or_fragment, press, see_other, show
from labcases.custody.actions import move_all
from labcases.custody.models import AskedHandover
from labcases.custody.scanning import actions, forms
from labcases.lab.access import StaffRequest, needs
from labcases.lab.models import Place, Staff
from labcases.lab.roles import Right
from labcases.lab.symbols import NoSymbol
from labcases.paper.labels import SIZES, Label, LabelTooSmall
from labcases.paper.papers import label_sheet
from labcases.paper.render import PaperMachineMissing
from labcases.paper.views import POLICY

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])


@sensitive_post_parameters("pin")
@GET_OR_POST
@needs(Right.LOOK, to_press=Right.MOVE)
def scan(request: StaffRequest) -> HttpResponse:
    """Scan things, then a place or badge. ``?scanned=`` is looked up and listed, as the page asks while one scans."""
    start = {"scanned": request.GET.get("scanned", "")}
    form = bound(request, forms.ScanForm, initial=start, by=request.user)
    if not form.is_bound:
        place, staff = (_chosen(model, request.GET.get(name)) for model, name in ((Place, "place"), (Staff, "staff")))
        form.look(start["scanned"], place, staff)
    elif done := press(request, form, "scan", lambda said: _hand(request, form, said)):
        return done
    context = {"form": form, "found": form.understood, "left": request.POST.getlist("leave")}
    wrong = form.is_bound and bool(form.errors)
    return page_or_fragment(
        request, "custody/scan.html", "custody/_scanned.html", context, status=422 if wrong else 200
    )


def _chosen(model: Any, pk: str | None) -> Any:
    return model.objects.filter(pk=int(pk)).first() if pk and pk.isdecimal() and len(pk) < 10 else None


def _hand(request: StaffRequest, form: forms.ScanForm, said: dict[str, Any]) -> str:
    """Do it, or ask the other side; where to look afterwards."""
    found, same = form.understood, {name: said[name] for name in ("things", "happened", "because")}
    count = len(said["things"])
    if form.asks_other and not form.confirmed:
        asked = actions.ask(to=form.asks_other, by=request.actor, **same)
        messages.info(request, f"{asked.to} is asked to take {_things(count)}. Until then nothing has moved.")
        return asked.get_absolute_url()
    move_all(to=found.to, by=request.actor, confirmed=form.confirmed, **same)  # type: ignore[arg-type]
    where = f"put in {found.to}" if found.place else f"handed to {found.to}"
    messages.success(request, f"{_things(count).capitalize()} {where}.")
    return reverse("custody:scan")


def _things(count: int) -> str:
    return "1 thing" if count == 1 else f"{count} things"


# --- what waits for one's word --------------------------------------------------------------------------------------


def _asked(pk: int) -> AskedHandover:
    rows = AskedHandover.objects.select_related("by", "to").prefetch_related("things__place", "things__staff")
    return get_object_or_404(rows, pk=pk)


@require_GET
@needs(Right.LOOK)
def asked(request: StaffRequest, pk: int) -> HttpResponse:
    """One hand-over that asks for both: who gives, who takes, which things, and how it was answered."""
    found = _asked(pk)
    waits = found.state == AskedHandover.State.ASKED
    context = {
        "asked": found,
        "mine": waits and found.to == request.user,
        "withdrawable": waits and found.by == request.user,
        "form": forms.RefuseForm(),
    }
    return show(request, "custody/asked.html", context)


@require_POST
@needs(Right.MOVE)
def take(request: StaffRequest, pk: int) -> HttpResponse:
    found = _asked(pk)
    _answered(request, lambda: actions.take(asked=found, by=request.actor, happened=timezone.now()))
    return see_other(request, found.get_absolute_url())


@require_POST
@needs(Right.MOVE)
def withdraw(request: StaffRequest, pk: int) -> HttpResponse:
    found = _asked(pk)
    _answered(request, lambda: actions.withdraw(asked=found, by=request.actor, happened=timezone.now()))
    return see_other(request, found.get_absolute_url())


def _answered(request: StaffRequest, act: Any) -> None:
    try:
        act()
    except Refused as refused:
        messages.error(request, " ".join(refused.sentences()))


@GET_OR_POST
@needs(Right.MOVE)
def refuse(request: StaffRequest, pk: int) -> HttpResponse:
    """Do not take it, and say why."""
    found, form = _asked(pk), bound(request, forms.RefuseForm)

    def act(said: dict[str, Any]) -> AskedHandover:
        actions.refuse(asked=found, because=said["because"], by=request.actor, happened=timezone.now())
        return found

    context = {
        "title": "Refuse the hand-over", "form": form, "about": found, "about_words": f"from {found.by}",
        "place": "Custody",
    }  # fmt: skip
    return press(request, form, "refuse-handover", act) or show(request, "verb.html", context)


# --- PIN, badges, rules ---------------------------------------------------------------------------------------------


@sensitive_post_parameters("password", "pin", "again")
@GET_OR_POST
@needs(Right.MOVE)
def pin(request: StaffRequest) -> HttpResponse:
    """One's own PIN."""
    form = bound(request, forms.PinForm, person=request.user)

    def act(said: dict[str, Any]) -> str:
        actions.set_pin(pin=said["pin"], by=request.actor, happened=timezone.now())
        messages.success(request, "Your PIN is set. You confirm with it at a colleague's screen.")
        return reverse("docket:custody")

    context = {"title": "Set your PIN", "form": form, "place": "Custody"}
    return press(request, form, "set-pin", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.MOVE)
def badges(request: StaffRequest) -> HttpResponse:
    """Print badges of people and labels of places. Setting takes its time: no transaction."""
    form = bound(request, forms.BadgeForm)
    if request.method == "POST" and form.is_valid():
        try:
            return _printed(form.cleaned_data)
        except (LabelTooSmall, NoSymbol, PaperMachineMissing) as problem:
            form.add_refusal(Refused(str(problem)))
    return show(request, "verb.html", {"title": "Print badges and places", "form": form, "place": "Custody"})


def _printed(said: dict[str, Any]) -> HttpResponse:
    many = [_label(person.badge, person.name, "badge") for person in said["people"]]
    many += [_label(place.code, place.name, place.get_kind_display()) for place in said["places"]]
    now = timezone.now()
    pdf = label_sheet(many, SIZES[said["size"]], title="Labels", language="en-GB", issued=now, first=said["first"])
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = content_disposition_header(False, "badges.pdf") or "inline"
    response["Cache-Control"] = "private, no-store"
    response["Content-Security-Policy"] = POLICY
    return response


def _label(code: str, first: str, second: str) -> Label:
    return Label(codes.printed(code), codes.symbol(code), first[:60], second)


@GET_OR_POST
@needs(Right.KEEP_LAB)
def rules(request: StaffRequest) -> HttpResponse:
    """What this lab asks for in custody, and who outside is told of its ledger."""
    form = bound(request, forms.RulesForm, initial=forms.RulesForm.initial_of())

    def act(said: dict[str, Any]) -> str:
        said.pop("once")
        actions.change_rules(by=request.actor, happened=timezone.now(), **said)
        return reverse("docket:custody")

    context = {"title": "Rules of custody", "button": "Keep these rules", "form": form, "place": "Custody"}
    return press(request, form, "custody-rules", act) or show(request, "verb.html", context)
