"""What is to be bought: the list, one need, and its verbs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_GET

from labcases.cases.queries import item_for
from labcases.core.forms import LabForm
from labcases.core.refused import Refused
from labcases.core.views import bound, csv_file, press, see_other, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.paper.models import Paper
from labcases.stock import actions, papers
from labcases.stock.forms.lists import NeedFilter
from labcases.stock.forms.parts import NeedForm, OrderForm, SentenceForm
from labcases.stock.forms.verbs import BecauseForm
from labcases.stock.models import EarlierOrder, Need
from labcases.stock.queries.buying import Wanted, to_be_bought, wanted
from labcases.stock.queries.candidates import wanted_part
from labcases.stock.rules import PartKind
from labcases.stock.views.common import GET_OR_POST, page_number, page_of, said_of, sorted_by

COLUMNS = {
    "patient": "item__thing__code",
    "part": "part",
    "state": "state",
    "supplier": "supplier",
    "price": "price",
    "promised": "promised",
    "since": "happened",
}
PRINTED_SHOWN = 10
CSV_HEAD = ["patient", "part", "state", "must be", "where", "price", "currency", "promised", "since", "note"]


@require_GET
@needs(Right.LOOK)
def to_buy(request: StaffRequest) -> HttpResponseBase:
    """What patients wait for and the stockroom has not."""
    form = NeedFilter(request.GET)
    listed = sorted_by(request, form.narrow(Need.objects.with_context()), COLUMNS, "-since")
    if request.GET.get("format") == "csv":
        return csv_file("to-buy", CSV_HEAD, (_csv_row(one) for one in wanted(listed)))
    page, today = page_number(request, listed), timezone.localdate()
    rows = [(one, one.need.is_late(today)) for one in wanted(page)]
    return show(request, "stock/to_buy.html", {"filter": form, "page": page, "rows": rows, "sort": "-since"})


def _csv_row(one: Wanted) -> tuple[Any, ...]:
    need, must = one.need, "; ".join(f"{line['label']} {line['value']}" for line in one.musts)
    about = (need.supplier, need.price, need.currency, need.promised, timezone.localtime(need.happened), need.note)
    return need.item, need.part, need.get_state_display(), must, *about


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.KEEP_STOCK)
def purchase_list(request: StaffRequest) -> HttpResponse:
    """What is still to be bought; pressed, it is a paper to take along. Setting takes its time: no transaction."""
    form = bound(request, LabForm)
    if request.method == "POST" and form.is_valid():
        try:
            paper = papers.print_purchase_list(by=request.actor, issued=timezone.now())
        except Refused as refused:
            form.add_refusal(refused)
        else:
            return see_other(request, paper.get_absolute_url())
    printed = Paper.objects.filter(kind=papers.KIND).select_related("by")[:PRINTED_SHOWN]
    context = {"form": form, "wanted": to_be_bought(), "printed": printed, "place": "Stockroom"}
    return show(request, "stock/purchase_list.html", context)


@require_GET
@needs(Right.LOOK)
def need(request: StaffRequest, pk: int) -> HttpResponse:
    """One need: what it must be, how far buying has come, and what may meet it."""
    found = _need(pk)
    (said,) = wanted([found])
    context = {"need": found, "lines": said.lines, "late": found.is_late(timezone.localdate()), "place": "Stockroom"}
    context["earlier"] = found.earlier.all()
    return show(request, "stock/need.html", context)


@GET_OR_POST
@needs(Right.ASSIGN)
def raise_need(request: StaffRequest, code: str) -> HttpResponse:
    """Put a part for a patient on the list to buy; ``?part=`` fills the form in."""
    item = item_for(request.user, code)
    asked = request.GET.get("part", "")
    form = bound(request, NeedForm, initial={"part": asked if asked in set(PartKind) else wanted_part(item).value})

    def act(said: dict[str, Any]) -> Need:
        about = said_of(said, "part", "note") | {"happened": timezone.now()}
        return actions.raise_need(patient=item, by=request.actor, **about)

    lead = "What it must be is taken from the patient and the rules. New stock is held against it when it comes in."
    context = page_of("Put on the list to buy", form, item, item.medium_words, lead=lead)
    return press(request, form, "raise-need", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def order_need(request: StaffRequest, pk: int) -> HttpResponse:
    """It is ordered."""
    found = _need(pk)
    form = bound(request, OrderForm, currency=found.currency or request.lab.currency)

    def act(said: dict[str, Any]) -> Need:
        about = {name: value for name, value in said.items() if name != "once"}
        return actions.order_need(need=found, by=request.actor, **about)

    context = page_of("Note the order", form, found, found.item.medium_words)
    return press(request, form, "order-need", act) or show(request, "verb.html", context)


def _step(
    request: StaffRequest, pk: int, title: str, action: Callable[..., Need], form_class: Any, **page: Any
) -> HttpResponse:
    found = _need(pk)
    form = bound(request, form_class)

    def act(said: dict[str, Any]) -> Need:
        return action(need=found, by=request.actor, **said_of(said, "because", "happened"))

    context = page_of(title, form, found, found.item.medium_words, **page)
    return press(request, form, action.__name__, act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def receive_need(request: StaffRequest, pk: int) -> HttpResponse:
    lead = "What is in the parcel is then taken into stock as a donor; there it is held against this need."
    return _step(request, pk, "Note that it arrived", actions.receive_need, SentenceForm, lead=lead)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def wrong_inside(request: StaffRequest, pk: int) -> HttpResponse:
    lead = "It is then to be bought again, or sent back."
    return _step(request, pk, "Note that it is wrong inside", actions.wrong_inside, BecauseForm, lead=lead)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def send_back(request: StaffRequest, pk: int) -> HttpResponse:
    lead = "Its price then no longer counts for the case."
    return _step(request, pk, "Note that it went back", actions.send_back, BecauseForm, lead=lead)


@GET_OR_POST
@needs(Right.KEEP_STOCK)
def send_earlier_back(request: StaffRequest, pk: int) -> HttpResponse:
    """What came wrong before it was ordered once more goes back."""
    found = get_object_or_404(
        EarlierOrder.objects.select_related("need__item__case__thing", "need__item__thing"), pk=pk
    )
    form = bound(request, BecauseForm)

    def act(said: dict[str, Any]) -> EarlierOrder:
        return actions.send_earlier_back(order=found, by=request.actor, **said_of(said, "because", "happened"))

    lead = "Its price then no longer counts for the case."
    context = page_of("Note that it went back", form, found, "", lead=lead)
    return press(request, form, "send-earlier-back", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.ASSIGN)
def drop_need(request: StaffRequest, pk: int) -> HttpResponse:
    return _step(request, pk, "Take it off the list", actions.drop_need, BecauseForm)


def _need(pk: int) -> Need:
    found: Need = get_object_or_404(Need.objects.with_context(), pk=pk)
    return found
