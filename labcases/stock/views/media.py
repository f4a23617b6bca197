"""Destinations and delivery media: the list, the page of one, what comes in, release, retire."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_safe

from labcases.cases.scans.views import file_of
from labcases.core import codes
from labcases.core.views import bound, csv_file, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.stock import actions
from labcases.stock.forms.lists import MediaFilter
from labcases.stock.forms.stocking import ChangeMediaForm, NewMediaForm
from labcases.stock.forms.verbs import BecauseForm, ConsentForm, ReleaseMediumForm
from labcases.stock.models import ConsentPaper, Destination, DestinationAssignment
from labcases.stock.queries.served import medium_history
from labcases.stock.views.common import GET_OR_POST, medium_of, page_number, page_of, said_of, sorted_by, start_of

COLUMNS = {
    "code": "thing__code",
    "use": "use",
    "model": "model",
    "size": "capacity",
    "state": "state",
    "where": "thing__place__name",
}
CSV_HEAD = [
    "medium",
    "use",
    "state",
    "holds",
    "serves",
    "maker",
    "model",
    "serial",
    "sectors",
    "bytes a sector",
    "where",
]

CONSENT = ("content", "consent", "consent_by", "consent_paper")


@require_GET
@needs(Right.LOOK)
def destinations(request: StaffRequest) -> HttpResponseBase:
    """Every destination and delivery medium."""
    form = MediaFilter(request.GET)
    listed = form.narrow(Destination.objects.with_context().with_bytes().with_serving())
    listed = sorted_by(request, listed, COLUMNS, "-code")
    if request.GET.get("format") == "csv":
        return csv_file("media", CSV_HEAD, (_csv_row(medium) for medium in listed.iterator()))
    context = {"filter": form, "page": page_number(request, listed), "sort": "-code"}
    return show(request, "stock/destinations.html", context)


def _csv_row(medium: Any) -> tuple[Any, ...]:
    serves = medium.serves and codes.printed(medium.serves)
    standing = (medium.get_use_display(), medium.get_state_display(), medium.held_for, serves)
    about = (medium.maker, medium.model, medium.serial, medium.sectors, medium.sector_bytes)
    return medium, *standing, *about, medium.thing.whereabouts


@require_GET
@needs(Right.LOOK)
def destination(request: StaffRequest, code: str) -> HttpResponse:
    """One medium: what is known, whose data it holds, whom it served, its wipes."""
    found = medium_of(code)
    history = list(medium_history().filter(destination=found))
    context = {
        "medium": found,
        "serving": next((row for row in history if row.ended is None), None),
        "history": history,
        "wipes": found.wipes.select_related("case__thing", "by", "verified_by"),
        "checks": found.health_checks.select_related("by"),
        "papers": found.consent_papers.select_related("by"),
        "place": "Stockroom",
    }
    return show(request, "stock/destination.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def add_destination(request: StaffRequest) -> HttpResponse:
    """Take a destination or a delivery medium into stock, or several alike."""
    form = bound(request, NewMediaForm, currency=request.lab.currency, initial={"use": request.GET.get("use", "clone")})

    def act(said: dict[str, Any]) -> Any:
        alike = said_of(said, "serials", "how_many", "own_of", "happened")
        about = {"currency": request.lab.currency, "at": said["place"], **form.about()}
        made = actions.stock_destinations(by=request.actor, **alike, **about)
        if said["own_of"]:
            return reverse("stock:note-consent", args=[str(made[0])])
        return made[0] if len(made) == 1 else reverse("stock:labels") + "?" + "&".join(f"things={one}" for one in made)

    context = page_of("Add media", form, None, "")
    return press(request, form, "add-destination", act) or show(request, "stock/medium_form.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def change_destination(request: StaffRequest, code: str) -> HttpResponse:
    """Correct what is known of a medium."""
    found = medium_of(code)
    start = start_of(ChangeMediaForm, found)
    form = bound(request, ChangeMediaForm, currency=found.currency, leave_out=found.thing, initial=start)

    def act(said: dict[str, Any]) -> Destination:
        about = {"by": request.actor, "happened": timezone.now(), **form.about()}
        return actions.change_destination(destination=found, seen=said["seen"], **about)

    context = page_of("Correct the medium", form, found, found.medium_words, button="Keep this correction")
    return press(request, form, "change-destination", act) or show(request, "stock/medium_form.html", context)


@GET_OR_POST
@needs(Right.ASSIGN)
def release_destination(request: StaffRequest, code: str) -> HttpResponse:
    """End its service; what was written on stays with its case until the wipe."""
    medium = medium_of(code)
    standing: DestinationAssignment | None = medium_history().filter(destination=medium).order_by("-pk").first()
    if standing is None:
        raise actions.NotNow(f"{medium} serves nobody.", mend="Assign it first.")
    form = bound(request, ReleaseMediumForm)

    def act(said: dict[str, Any]) -> Destination:
        about = said_of(said, "because", "happened")
        written = said["written"] == "yes"
        return actions.release_destination(assignment=standing, written=written, by=request.actor, **about).destination

    lead = f"It serves {standing.item}. Written on, it goes to no other case before its wipe is on record."
    context = page_of("Release the medium", form, medium, medium.medium_words, lead=lead)
    return press(request, form, "release-destination", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def note_consent(request: StaffRequest, code: str) -> HttpResponse:
    """What lies on a customer's own medium, and the owner's written consent."""
    medium = medium_of(code)
    start = {name: getattr(medium, name) for name in CONSENT}
    form = bound(request, ConsentForm, initial=start, kept=medium.consent_papers.exists())

    def act(said: dict[str, Any]) -> Destination:
        about = said_of(said, *CONSENT, "scan", "happened")
        return actions.note_consent(destination=medium, by=request.actor, **about)

    lead = "It is never wiped here, and nothing is written on it before its owner consents in writing."
    context = page_of("Note the consent", form, medium, medium.medium_words, lead=lead)
    return press(request, form, "note-consent", act) or show(request, "verb.html", context)


@require_safe
@needs(Right.LOOK)
def consent_paper(request: StaffRequest, pk: int) -> HttpResponse:
    """A signed consent: a PDF as it came, of a picture the copy made here."""
    paper = get_object_or_404(ConsentPaper.objects.select_related("destination__thing"), pk=pk)
    return file_of(paper, f"Consent {paper.destination} {paper.pk}")


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def retire(request: StaffRequest, code: str) -> HttpResponse:
    """Take a medium out of use for good."""
    medium = medium_of(code)
    form = bound(request, BecauseForm)

    def act(said: dict[str, Any]) -> Destination:
        return actions.retire(destination=medium, by=request.actor, **said_of(said, "because", "happened"))

    cautions = [f"{medium.holds} Retired, it still has to be wiped or destroyed."] if medium.holds else []
    context = page_of("Retire the medium", form, medium, medium.medium_words, cautions=cautions, danger=True)
    return press(request, form, "retire", act) or show(request, "verb.html", context)
