"""The verbs of the office, one address each, and the list of quotes."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from labcases.cases.models import Case
from labcases.cases.queries import case_for
from labcases.core.money import Money
from labcases.core.views import bound, csv_file, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.models import Profile
from labcases.lab.roles import Right
from labcases.office import actions, queries
from labcases.office.forms import AnswerForm, PaymentForm, QuoteFilter, QuoteForm, SettleForm
from labcases.office.models import Quote
from labcases.stock.queries.buying import costs_of

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])
ROWS = 50


def _page(case: Case, title: str, form: Any, **more: Any) -> dict[str, Any]:
    return {
        "title": title,
        "form": form,
        "about": case,
        "about_words": str(case.owner),
        "place": "Office",
        "case": case,
        **more,
    }


def _blank_quote() -> dict[str, Any]:
    until = timezone.localdate() + timedelta(days=actions.DAYS_VALID)
    return {"tax_rate": f"{Profile.current().tax_rate / 100:.2f}", "valid_until": until}


@GET_OR_POST
@needs(Right.QUOTE)
def quote(request: StaffRequest, code: str) -> HttpResponse:
    """Quote a case; an earlier standing quote is superseded."""
    case = case_for(request.user, code)
    form = bound(request, QuoteForm, currency=case.currency, initial=_blank_quote())

    def act(said: dict[str, Any]) -> Quote:
        about = {name: said[name] for name in ("success", "valid_until", "happened")}
        return actions.send_quote(case=case, lines=form.lines(), tax_rate=form.basis_points, by=request.actor, **about)

    context = _page(
        case, "Quote the work", form, items=queries.to_price(case), wanted=case.wanted.all(), bought=costs_of(case)
    )
    return press(request, form, "quote", act) or show(request, "office/quote.html", context)


@GET_OR_POST
@needs(Right.TELL)
def within_limit(request: StaffRequest, code: str) -> HttpResponse:
    """Start without asking again, when the price is within the limit signed at the counter."""
    case = case_for(request.user, code)
    form = bound(request, QuoteForm, currency=case.currency, initial=_blank_quote())

    def act(said: dict[str, Any]) -> Quote:
        happened = said["happened"]
        return actions.authorise_within_limit(
            case=case, lines=form.lines(), tax_rate=form.basis_points, by=request.actor, happened=happened
        )

    limit = Money(case.spending_limit, case.currency).words() if case.spending_limit is not None else "none agreed"
    lead = f"Limit signed at the counter: {limit}, tax included."
    context = _page(case, "Price within the limit", form, lead=lead, items=queries.to_price(case))
    return press(request, form, "within-limit", act) or show(request, "office/quote.html", context)


@GET_OR_POST
@needs(Right.TELL)
def answer(request: StaffRequest, code: str) -> HttpResponse:
    """Note the customer's answer to the standing quote."""
    case = case_for(request.user, code)
    standing = case.quotes.order_by("-pk").first()
    if standing is None:
        raise Http404(f"Case {case} has no quote to answer.")
    form = bound(request, AnswerForm, initial={"who": case.payer.name})

    def act(said: dict[str, Any]) -> Case:
        verb = actions.accept_quote if said["answer"] == "yes" else actions.decline_quote
        verb(quote=standing, who=said["who"], how=said["how"], by=request.actor, happened=said["happened"])
        return case

    price = Money(standing.total, standing.currency).words()
    lead = f"Quote {standing}: {price}, valid until {standing.valid_until:%d %B %Y}."
    page = _page(case, "Note the answer", form, lead=lead)
    return press(request, form, "answer-quote", act) or show(request, "verb.html", page)


@GET_OR_POST
@needs(Right.TAKE_MONEY)
def payment(request: StaffRequest, code: str) -> HttpResponse:
    """Take a payment."""
    case = case_for(request.user, code)
    balance = queries.balance_of(case)
    start = {"amount": Money(balance, case.currency).plain()} if balance > 0 else {}
    form = bound(request, PaymentForm, currency=case.currency, initial=start)

    def act(said: dict[str, Any]) -> Any:
        said.pop("once")
        return actions.take_payment(case=case, by=request.actor, **said)

    page = _page(case, "Take a payment", form, lead=f"Balance: {Money(balance, case.currency).words()}.")
    return press(request, form, "take-payment", act) or show(request, "verb.html", page)


@GET_OR_POST
@needs(Right.WAIVE)
def settle(request: StaffRequest, code: str) -> HttpResponse:
    """Put the balance on account, or waive it."""
    case = case_for(request.user, code)
    form = bound(request, SettleForm)

    def act(said: dict[str, Any]) -> Case:
        said.pop("once")
        actions.settle(case=case, by=request.actor, **said)
        return case

    lead = f"Balance: {Money(queries.balance_of(case), case.currency).words()}. The reason stands in the day-book."
    page = _page(case, "Settle the balance", form, lead=lead)
    return press(request, form, "settle", act) or show(request, "verb.html", page)


@require_GET
@needs(Right.LOOK)
def quotes(request: StaffRequest) -> HttpResponseBase:
    """Every quote, newest first."""
    form = QuoteFilter(request.GET)
    listed = form.narrow(Quote.objects.select_related("case__thing", "case__owner", "by"))
    if request.GET.get("format") == "csv":
        head = ["quote", "owner", "state", "total", "currency", "quoted", "valid until"]
        rows = (
            (q, q.case.owner, q.state, Money(q.total, q.currency).plain(), q.currency, q.happened, q.valid_until)
            for q in listed.iterator()
        )
        return csv_file("quotes", head, rows)
    page = Paginator(listed, ROWS).get_page(request.GET.get("page"))
    return show(request, "office/quotes.html", {"filter": form, "page": page})
