"""Stocktakes: the list, counting, the lines and their answers, signing off."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from labcases.core.refused import Refused
from labcases.core.views import bound, csv_file, page_or_fragment, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.stock.forms.verbs import BecauseForm
from labcases.stock.takes import actions, queries
from labcases.stock.takes.forms import AnswerForm, BeginForm, CountForm, LineFilter, SignForm
from labcases.stock.takes.models import Stocktake, TakeLine
from labcases.stock.views.common import GET_OR_POST, page_number, page_of, said_of, sorted_by

COLUMNS = {"begun": "happened", "words": "words", "state": "state", "ended": "ended"}
LINES = {
    "code": "code",
    "outcome": "outcome",
    "expected": "expected_at__name",
    "found": "found_at__name",
    "counted": "counted",
    "answer": "answer",
}


@require_GET
@needs(Right.LOOK)
def takes(request: StaffRequest) -> HttpResponseBase:
    """Every stocktake."""
    listed = Stocktake.objects.select_related("by", "ended_by").prefetch_related("places")
    listed = sorted_by(request, listed, COLUMNS, "-begun")
    if request.GET.get("format") == "csv":
        head = ["stocktake", "places", "begun", "by", "state", "ended", "signed by"]
        return csv_file("stocktakes", head, (_take_row(take) for take in listed.iterator(chunk_size=500)))
    context = {"page": page_number(request, listed), "sort": "-begun", "place": "Stockroom"}
    return show(request, "stock/takes.html", context)


def _take_row(take: Stocktake) -> tuple[Any, ...]:
    places = ", ".join(place.name for place in take.places.all())
    return take, places, take.happened, take.by, take.get_state_display(), take.ended, take.ended_by


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def begin_take(request: StaffRequest) -> HttpResponse:
    """Choose the places; what the book says lies there is expected from now on."""
    form = bound(request, BeginForm, initial={"places": request.GET.getlist("place")})

    def act(said: dict[str, Any]) -> Stocktake:
        about = said_of(said, "words", "happened")
        return actions.begin_take(places=list(said["places"]), by=request.actor, **about)

    lead = "What the book says lies there now is expected. You can stop and go on at any time, and several can count."
    context = page_of("Begin a stocktake", form, None, "", lead=lead, back=reverse("stock:takes"))
    return press(request, form, "begin-take", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.MOVE)
def take(request: StaffRequest, pk: int) -> HttpResponse:
    """Count: each scan is one line. The same address gives the page, and the part that a scan changes."""
    found = queries.take_for(pk)
    places = list(found.places.all())
    form = bound(request, CountForm, take=found, initial={"place": places[0]})
    counted = None
    if request.method == "POST" and form.is_valid():
        counted = _count(request, found, form)
        place = (counted and counted.place) or form.cleaned_data["place"]
        if not form.errors:
            form = CountForm(take=found, initial={"place": place})
    context = {
        "take": found,
        "form": form,
        "counted": counted,
        "progress": queries.progress(found),
        "place": "Stockroom",
    }
    status = 422 if form.is_bound and form.errors else 200
    return page_or_fragment(request, "stock/take.html", "stock/_take.html", context, status=status)


def _count(request: StaffRequest, found: Stocktake, form: CountForm) -> actions.Counted | None:
    said = form.cleaned_data
    try:
        return actions.count(
            take=found, read=said["read"], place=said["place"], by=request.actor, happened=timezone.now()
        )
    except Refused as refused:
        form.add_refusal(refused)
        return None


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.KEEP_STOCK)
def take_lines(request: StaffRequest, pk: int) -> HttpResponseBase:
    """The lines of a stocktake; sent, it answers those that are ticked."""
    found = queries.take_for(pk)
    form = bound(request, AnswerForm, take=found)

    def act(said: dict[str, Any]) -> str:
        about = {"lines": list(said["lines"]), "how": said["how"], "because": said["because"]}
        actions.answer(take=found, by=request.actor, happened=timezone.now(), **about)
        return request.get_full_path()

    if done := press(request, form, "answer-take", act):
        return done
    sift = LineFilter(request.GET)
    listed = sorted_by(request, sift.narrow(found.lines.with_context()), LINES, "code")
    if request.GET.get("format") == "csv":
        head = ["code", "what", "outcome", "expected in", "found in", "counted", "by", "answer", "because"]
        return csv_file(f"stocktake-{pk}", head, (_line_row(line) for line in listed.iterator()))
    context = {
        "take": found,
        "filter": sift,
        "form": form,
        "page": page_number(request, listed),
        "sort": "code",
        "place": "Stockroom",
    }
    return show(request, "stock/take_lines.html", context)


def _line_row(line: TakeLine) -> tuple[Any, ...]:
    what = line.thing.words if line.thing else ""
    where = (line.get_outcome_display(), line.expected_at, line.found_at, line.counted, line.counted_by)
    return line, what, *where, line.get_answer_display(), line.because


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def sign_off(request: StaffRequest, pk: int) -> HttpResponse:
    """Sign a stocktake off."""
    found = queries.take_for(pk)
    form = bound(request, SignForm)

    def act(said: dict[str, Any]) -> Stocktake:
        return actions.sign_off(take=found, by=request.actor, **said_of(said, "because", "happened"))

    counts = found.lines.counts()
    lead = ", ".join(f"{number:,} {name}" for name, number in counts.items() if number) or "Nothing was expected."
    left = actions.unanswered(found)
    differs = reverse("stock:take-lines", args=[pk]) + "?outcome=differs&answer=none"
    cautions = [f"{len(left):,} without an answer: they stand in the list of what differs."] if left else []
    context = page_of("Sign off the stocktake", form, found, "", lead=lead, cautions=cautions, differs=differs)
    return press(request, form, "sign-take", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def drop_take(request: StaffRequest, pk: int) -> HttpResponse:
    """Give a stocktake up."""
    found = queries.take_for(pk)
    form = bound(request, BecauseForm)

    def act(said: dict[str, Any]) -> Stocktake:
        return actions.drop_take(take=found, by=request.actor, **said_of(said, "because", "happened"))

    lead = "What was answered stays answered; the rest counts for nothing."
    context = page_of("Drop the stocktake", form, found, "", lead=lead, danger=True)
    return press(request, form, "drop-take", act) or show(request, "verb.html", context)
