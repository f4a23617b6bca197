"""The verbs of the office: quote, note an answer, take a payment, settle what will not be paid now."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db.models import Max
from django.utils import timezone

from labcases.cases.actions import advance
from labcases.cases.models import Case
from labcases.cases.stages import Stage
from labcases.core.money import Money
from labcases.core.refused import Refused
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right
from labcases.office import pricing, queries
from labcases.office.models import Payment, Quote, Settlement

DAYS_VALID = 14


class NothingToQuote(Refused):
    """No item of the case is examined and waiting for a price."""


class QuoteNotOpen(Refused):
    """The quote is not waiting for an answer any more."""


class OverTheLimit(Refused):
    """The price is more than the customer agreed at the counter."""


class NothingToSettle(Refused):
    """The balance is nil already."""


@recorded
def send_quote(
    *,
    case: Case,
    lines: Sequence[tuple[str, int]],
    by: Actor,
    happened: datetime,
    tax_rate: int = 0,
    success: str = "",
    valid_until: date | None = None,
) -> Quote:
    """Quote a case: lines of words and amounts in minor units before tax, ``tax_rate`` in basis points.

    An earlier standing quote stays on file, superseded. Raises NothingToQuote when nothing is examined.
    """
    by.must(Right.QUOTE)
    return _quote(case, lines, by, happened, tax_rate=tax_rate, success=success, valid_until=valid_until)


def _quote(
    case: Case,
    lines: Sequence[tuple[str, int]],
    by: Actor,
    happened: datetime,
    *,
    tax_rate: int,
    success: str = "",
    valid_until: date | None = None,
) -> Quote:
    waiting = [item for item in case.items.all() if item.stage in (Stage.EXAMINED, Stage.QUOTED)]
    if not waiting:
        raise NothingToQuote("No item of this case waits for a price.", mend="Record the findings first.")
    case.quotes.filter(state__in=[Quote.State.SENT, Quote.State.ACCEPTED]).update(state=Quote.State.SUPERSEDED)
    net = sum(amount for _, amount in lines)
    tax = pricing.tax_on(net, Decimal(tax_rate) / 100)
    number = (case.quotes.aggregate(last=Max("number"))["last"] or 0) + 1
    quote = Quote.objects.create(
        case=case,
        number=number,
        lines=[{"words": words, "amount": amount} for words, amount in lines],
        tax_rate=tax_rate,
        net=net,
        tax=tax,
        total=net + tax,
        currency=case.currency,
        success=success,
        valid_until=valid_until or (timezone.localtime(happened) + timedelta(days=DAYS_VALID)).date(),
        **Entry.stamp(by, happened),
    )
    for item in waiting:
        if item.stage == Stage.EXAMINED:
            advance(item=item, to=Stage.QUOTED, by=by, happened=happened)
    because = f"quote {quote}, {Money(quote.total, quote.currency).words()}, valid until {quote.valid_until}"
    record("quoted", thing=case.thing, by=by, happened=happened, because=because, case=case.code)
    return quote


@recorded
def accept_quote(*, quote: Quote, who: str, how: str, by: Actor, happened: datetime) -> Quote:
    """The customer said yes: who, and how it reached us (signed, mail, call, chat). Work may start."""
    by.must(Right.TELL)
    _answer(quote, Quote.State.ACCEPTED, who, how, happened)
    case = quote.case
    for item in case.items.filter(stage=Stage.QUOTED):
        advance(item=item, to=Stage.AUTHORISED, by=by, happened=happened)
    because = f"quote {quote}, {Money(quote.total, quote.currency).words()}"
    authority = f"{who}, {how}"
    record(
        "quote-accepted",
        thing=case.thing,
        by=by,
        happened=happened,
        because=because,
        authority=authority,
        case=case.code,
    )
    return quote


@recorded
def decline_quote(*, quote: Quote, who: str, how: str, by: Actor, happened: datetime) -> Quote:
    """The customer said no: the items are declined, and go back by a handover."""
    by.must(Right.TELL)
    _answer(quote, Quote.State.DECLINED, who, how, happened)
    for item in quote.case.items.filter(stage=Stage.QUOTED):
        advance(item=item, to=Stage.DECLINED, by=by, happened=happened, because=how)
    record(
        "quote-declined",
        thing=quote.case.thing,
        by=by,
        happened=happened,
        because=f"{who}, {how}",
        case=quote.case.code,
    )
    return quote


@recorded
def authorise_within_limit(
    *, case: Case, lines: Sequence[tuple[str, int]], by: Actor, happened: datetime, tax_rate: int = 0
) -> Quote:
    """Start without asking again, since the price with its tax is within the limit signed at the counter.

    Raises OverTheLimit when it is not, or when no limit was agreed.
    """
    by.must(Right.TELL)
    quote = _quote(case, lines, by, happened, tax_rate=tax_rate)
    if case.terms_signed is None or case.spending_limit is None or quote.total > case.spending_limit:
        agreed = Money(case.spending_limit, case.currency).words() if case.spending_limit is not None else "no limit"
        raise OverTheLimit(
            "This is more than the customer agreed at the counter.",
            why=f"Agreed: {agreed}.",
            mend="Send a quote instead.",
        )
    return accept_quote(
        quote=quote, who=case.signed_by, how="spending limit signed at the counter", by=by, happened=happened
    )


def _answer(quote: Quote, state: str, who: str, how: str, happened: datetime) -> None:
    won = Quote.objects.filter(pk=quote.pk, state=Quote.State.SENT).update(
        state=state, answered=happened, answer_by=who, answer_how=how
    )
    quote.refresh_from_db()
    if not won:
        raise QuoteNotOpen(
            f"Quote {quote} does not wait for an answer: it is {quote.get_state_display()}.",
            mend="Reload the page and look again.",
        )


@recorded
def take_payment(*, case: Case, amount: int, method: str, by: Actor, happened: datetime, note: str = "") -> Payment:
    """Money in (minor units of the case's currency); negative when it goes back."""
    by.must(Right.TAKE_MONEY)
    made = Payment.objects.create(
        case=case, amount=amount, currency=case.currency, method=method, note=note, **Entry.stamp(by, happened)
    )
    because = f"{Money(amount, case.currency).words()}, {made.get_method_display()}"
    record("paid", thing=case.thing, by=by, happened=happened, because=because, case=case.code)
    return made


@recorded
def settle(*, case: Case, how: str, because: str, by: Actor, happened: datetime) -> Settlement:
    """Put the balance on the payer's account, or waive it: a manager's word, with the reason."""
    by.must(Right.WAIVE)
    balance = queries.balance_of(case)
    if balance <= 0:
        raise NothingToSettle("There is nothing left to pay.", mend="Go on to the handover.")
    made = Settlement.objects.create(
        case=case, how=how, amount=balance, currency=case.currency, because=because, **Entry.stamp(by, happened)
    )
    words = f"{Money(balance, case.currency).words()} {made.get_how_display()}: {because}"
    record("money-settled", thing=case.thing, by=by, happened=happened, because=words, case=case.code)
    return made
