"""Wipes: the list, the page of one, its verbs and its certificate; and the health of a medium."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.utils import timezone
from django.views.decorators.http import require_GET

from labcases.core.refused import Refused
from labcases.core.views import bound, csv_file, press, see_other, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.paper.models import Paper
from labcases.stock.models import Destination, Wipe
from labcases.stock.views.common import GET_OR_POST, medium_of, page_number, page_of, said_of, sorted_by
from labcases.stock.wiping import actions, papers, queries
from labcases.stock.wiping.forms import (
    BeginWipeForm,
    BreakOffForm,
    CertificateForm,
    EndForm,
    FinishedWipeForm,
    HealthForm,
    VerifyForm,
    WipeFilter,
)

COLUMNS = {
    "medium": "destination__thing__code",
    "case": "case__thing__code",
    "begun": "happened",
    "state": "state",
    "method": "method",
    "ended": "ended",
    "port": "port",
}
CSV_HEAD = ["medium", "serial", "held data of", "state", "method", "technique", "tool", "on", "begun", "ended"]
CSV_HEAD += ["verified", "share %", "verified at", "verified by", "standard"]


@require_GET
@needs(Right.LOOK)
def wipes(request: StaffRequest) -> HttpResponseBase:
    """Every wipe that was ever begun."""
    form = WipeFilter(request.GET)
    listed = sorted_by(request, form.narrow(Wipe.objects.with_context()), COLUMNS, "-begun")
    if request.GET.get("format") == "csv":
        return csv_file("wipes", CSV_HEAD, (_csv_row(wipe) for wipe in listed.iterator()))
    page = page_number(request, listed)
    now = timezone.now()
    runs = [queries.Run.of(wipe, now) for wipe in page]
    context = {"filter": form, "page": page, "runs": runs, "sort": "-begun", "place": "Stockroom"}
    return show(request, "stock/wipes.html", context)


def _csv_row(wipe: Wipe) -> tuple[Any, ...]:
    medium = (wipe.destination, wipe.destination.serial, wipe.case, wipe.get_state_display())
    how = (wipe.method, wipe.technique, wipe.tool, wipe.port, wipe.happened.isoformat(), _iso(wipe.ended))
    back = (wipe.get_verified_display(), wipe.share, _iso(wipe.verified_at), wipe.verified_by, wipe.standard)
    return *medium, *how, *back


def _iso(moment: Any) -> str:
    return moment.isoformat() if moment else ""


@require_GET
@needs(Right.LOOK)
def a_wipe(request: StaffRequest, pk: int) -> HttpResponse:
    """One wipe: how far it is, how it ended, how it was verified, its certificates."""
    found = queries.wipe_for(pk)
    context = {
        "wipe": found,
        "medium": found.destination,
        "run": queries.Run.of(found, timezone.now()),
        "papers": Paper.objects.filter(key__startswith=f"{papers.KIND}/{pk}/").select_related("by"),
        "place": "Stockroom",
    }
    return show(request, "stock/wipe.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def begin_wipe(request: StaffRequest, code: str) -> HttpResponse:
    """A wipe runs from now on."""
    medium = medium_of(code)
    form = bound(request, BeginWipeForm)

    def act(said: dict[str, Any]) -> Wipe:
        return actions.begin_wipe(destination=medium, by=request.actor, **form.told())

    lead = "From now on it is busy. It is free again when the wipe has ended and was verified."
    context = _page("Begin its wipe", form, medium, lead=lead, danger=True, cautions=_cautions(medium))
    return press(request, form, "begin-wipe", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def wipe(request: StaffRequest, code: str) -> HttpResponse:
    """Put a wipe on record that is over and was verified."""
    medium = medium_of(code)
    form = bound(request, FinishedWipeForm)

    def act(said: dict[str, Any]) -> Destination:
        about = said_of(said, "method", "technique", "tool", "verified", "share", "happened")
        return actions.wipe(destination=medium, by=request.actor, **about).destination

    lead = "Only a wipe that was verified goes on record here. It cannot be undone."
    context = _page("Put its wipe on record", form, medium, lead=lead, danger=True, cautions=_cautions(medium))
    return press(request, form, "wipe", act) or show(request, "verb.html", context)


def _cautions(medium: Destination) -> list[str]:
    own = ["It is a customer's own medium: it is never wiped here."] if medium.owned_by_id else []
    return own or ([medium.holds] if medium.holds else [])


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def end_wipe(request: StaffRequest, pk: int) -> HttpResponse:
    """A wipe that ran is over."""
    found = queries.wipe_for(pk)
    form = bound(request, EndForm)

    def act(said: dict[str, Any]) -> Wipe:
        return actions.end_wipe(wipe=found, by=request.actor, happened=said["happened"])

    lead = "The medium then waits for its verification; until that is passed nobody else gets it."
    context = _page("Note the end of its wipe", form, found.destination, lead=lead)
    return press(request, form, "end-wipe", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def break_off_wipe(request: StaffRequest, pk: int) -> HttpResponse:
    """A wipe that ran came to nothing."""
    found = queries.wipe_for(pk)
    form = bound(request, BreakOffForm)

    def act(said: dict[str, Any]) -> Wipe:
        about = said_of(said, "because", "happened")
        return actions.break_off_wipe(wipe=found, stopped=said["how"] == "stopped", by=request.actor, **about)

    lead = "What the medium held, it counts as holding still."
    context = _page("Note that its wipe came to nothing", form, found.destination, lead=lead)
    return press(request, form, "break-off-wipe", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def verify_wipe(request: StaffRequest, pk: int) -> HttpResponse:
    """How an ended wipe was read back, and what came out."""
    found = queries.wipe_for(pk)
    destroyed = found.method == Wipe.Method.DESTROY
    start = {"verified": Wipe.Verified.SEEN} if destroyed else {}
    form = bound(request, VerifyForm, wipe=found, initial=start)

    def act(said: dict[str, Any]) -> Wipe:
        about = said_of(said, "verified", "share", "verified_with", "because", "happened")
        return actions.verify_wipe(wipe=found, passed=said["passed"] == "yes", by=request.actor, **about)

    lead = f"{found.how}. Only what is verified frees the medium."
    context = _page("Verify its wipe", form, found.destination, lead=lead)
    return press(request, form, "verify-wipe", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.KEEP_STOCK)
def certificate(request: StaffRequest, pk: int) -> HttpResponse:
    """Print the certificate of a verified wipe. Setting takes its time: no transaction."""
    found = queries.wipe_for(pk)
    form = bound(request, CertificateForm)
    if request.method == "POST" and form.is_valid():
        told = {name: str(value) for name, value in form.cleaned_data.items() if name != "once"}
        try:
            paper = papers.print_certificate(found, told=told, by=request.actor, issued=timezone.now())
        except Refused as refused:
            form.add_refusal(refused)
        else:
            return see_other(request, paper.get_absolute_url())
    lead = f"After {found.standard}, section 4.8. What you leave blank is printed as not stated, or as is usual."
    context = _page("Print its certificate", form, found.destination, lead=lead)
    return show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def check_health(request: StaffRequest, code: str) -> HttpResponse:
    """What a medium said of its health, and whether the lab trusts it."""
    medium = medium_of(code)
    form = bound(request, HealthForm)

    def act(said: dict[str, Any]) -> Destination:
        return actions.check_health(destination=medium, by=request.actor, **form.told()).destination

    lead = "What fails is retired: at once, or when its service ends."
    context = _page("Record its health", form, medium, lead=lead)
    return press(request, form, "check-health", act) or show(request, "verb.html", context)


def _page(title: str, form: Any, medium: Destination, **more: Any) -> dict[str, Any]:
    return page_of(title, form, medium, medium.medium_words, **more)
