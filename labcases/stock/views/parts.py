"""One part: its page, and its verbs from the first test to the outcome."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_GET

from labcases.core.money import Money
from labcases.core.views import bound, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.stock import actions
from labcases.stock.forms.parts import JudgeForm, PartChangeForm, PartForm, SentenceForm, StripForm, TestForm
from labcases.stock.forms.verbs import BecauseForm
from labcases.stock.models import Donor, DonorPart, Need, PartAssignment
from labcases.stock.queries.served import part_history
from labcases.stock.views.common import GET_OR_POST, donor_of, page_of, part_of, said_of


@require_GET
@needs(Right.LOOK)
def part(request: StaffRequest, code: str) -> HttpResponse:
    """One part: what is known of it, whom it is kept for, whom it served and what came of each use."""
    found = part_of(code)
    history = list(part_history().filter(part=found))
    context = {
        "part": found,
        "donor": found.donor,
        "history": history,
        "serving": next((row for row in history if row.ended is None), None),
        "offered": Need.objects.still_open().with_context().filter(offered=found),
        "place": "Stockroom",
    }
    return show(request, "stock/part.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def list_part(request: StaffRequest, code: str) -> HttpResponse:
    """Name a further part that a donor can give."""
    found = donor_of(code)
    form = bound(request, PartForm)

    def act(said: dict[str, Any]) -> Donor:
        about = said_of(said, "part", "tested", "note", "happened")
        return actions.list_part(donor=found, by=request.actor, **about).donor

    context = page_of("List a part", form, found, found.medium_words)
    return press(request, form, "list-part", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def note_test(request: StaffRequest, code: str) -> HttpResponse:
    """How a part was tested, and what came out."""
    found = part_of(code)
    form = bound(request, TestForm, kind=found.part, initial={"heads_alive": found.heads_alive})

    def act(said: dict[str, Any]) -> DonorPart:
        about = {name: value for name, value in said.items() if name != "once"}
        return actions.note_test(part=found, by=request.actor, **about)

    context = page_of("Note a test", form, found, found.thing.words)
    return press(request, form, "note-test", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def strip_part(request: StaffRequest, code: str) -> HttpResponse:
    """Take a part off its donor."""
    found = part_of(code)
    form = bound(request, StripForm)

    def act(said: dict[str, Any]) -> DonorPart:
        about = {"at": said["place"], **said_of(said, "because", "happened")}
        return actions.strip_part(part=found, by=request.actor, **about)

    lead = "From then on it lies by itself; what becomes of the donor is not its affair any more."
    context = page_of("Take it off its donor", form, found, found.thing.words, lead=lead)
    return press(request, form, "strip-part", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def change_part(request: StaffRequest, code: str) -> HttpResponse:
    """Put right what a part cost, and what is noted of it."""
    found = part_of(code)
    currency = found.donor.currency
    start = {"note": found.note, "cost": "" if found.cost is None else Money(found.cost, currency).plain()}
    form = bound(request, PartChangeForm, currency=currency, initial=start)

    def act(said: dict[str, Any]) -> DonorPart:
        about = said_of(said, "cost", "note") | {"happened": timezone.now()}
        return actions.correct_part(part=found, by=request.actor, **about)

    context = page_of("Correct the part", form, found, found.thing.words, button="Keep this correction")
    return press(request, form, "change-part", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def scrap_donor(request: StaffRequest, code: str) -> HttpResponse:
    """Throw a donor away."""
    found = donor_of(code)
    form = bound(request, BecauseForm)

    def act(said: dict[str, Any]) -> Donor:
        return actions.scrap_donor(donor=found, by=request.actor, **said_of(said, "because", "happened"))

    lead = "Every part that is still on it and on the shelf is spoiled with it. Parts taken off it before stay."
    context = page_of("Scrap the donor", form, found, found.medium_words, lead=lead, danger=True)
    return press(request, form, "scrap-donor", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.ASSIGN)
def release_part(request: StaffRequest, code: str) -> HttpResponse:
    """Give a part back unused."""
    found = part_of(code)
    standing = _standing(found)
    form = bound(request, BecauseForm)

    def act(said: dict[str, Any]) -> PartAssignment:
        return actions.release_part(assignment=standing, by=request.actor, **said_of(said, "because", "happened"))

    lead = f"It serves {standing.item}. Released, it is free again. After use, judge it instead."
    context = page_of("Release the part", form, found, found.thing.words, lead=lead)
    return press(request, form, "release-part", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.ASSIGN)
def end_reservation(request: StaffRequest, code: str) -> HttpResponse:
    """Let go of a reservation before its time."""
    found = part_of(code)
    form = bound(request, SentenceForm)

    def act(said: dict[str, Any]) -> DonorPart:
        return actions.end_reservation(part=found, by=request.actor, **said_of(said, "because", "happened"))

    context = page_of("End the reservation", form, found, found.thing.words)
    return press(request, form, "end-reservation", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.EXAMINE)
def judge_part(request: StaffRequest, code: str) -> HttpResponse:
    """After use: whether the part worked, and why."""
    found = part_of(code)
    standing = _standing(found)
    form = bound(request, JudgeForm, kind=found.part)

    def act(said: dict[str, Any]) -> PartAssignment:
        about = said_of(said, "outcome", "because", "afterwards", "happened")
        alive = said.get("heads_alive") or None
        return actions.judge_part(assignment=standing, by=request.actor, heads_alive=alive, **about)

    lead = f"It served {standing.item}. What came of it is what the next choice is made by."
    context = page_of("Judge the part after use", form, found, found.thing.words, lead=lead)
    return press(request, form, "judge-part", act) or show(request, "verb.html", context)


def _standing(part: DonorPart) -> PartAssignment:
    """Its standing assignment, or the newest: an old page gets the sentence of the action, and keeps what was typed."""
    rows = part_history().filter(part=part)
    newest: PartAssignment | None = rows.order_by("-pk").first()
    if newest is None:
        raise actions.NotNow(f"{part} serves nobody.", mend="Assign it first.")
    return newest
