"""Who owes what, and whether a case has its authority."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Sum

from labcases.cases.models import Case, Item
from labcases.cases.stages import Stage
from labcases.office.models import Payment, Quote, Settlement

FRONT = 50


@dataclass(frozen=True)
class Account:
    """The money of one case, minor units: what was agreed, paid, and put aside by a manager's word."""

    quote: Quote | None = None
    agreed: int = 0
    paid: int = 0
    settled: int = 0

    @property
    def balance(self) -> int:
        """What is still owed; negative when too much was paid."""
        return self.agreed - self.paid - self.settled


def accounts_of(cases: Iterable[int]) -> dict[int, Account]:
    """The account of each case by its key, in three queries."""
    keys = set(cases)
    standing = {}
    for quote in Quote.objects.filter(case__in=keys).order_by("pk"):
        standing[quote.case_id] = quote
    paid = dict(Payment.objects.filter(case__in=keys).order_by().values_list("case").annotate(Sum("amount")))
    settled = dict(Settlement.objects.filter(case__in=keys).order_by().values_list("case").annotate(Sum("amount")))
    return {key: _account(standing.get(key), paid.get(key, 0), settled.get(key, 0)) for key in keys}


def _account(quote: Quote | None, paid: int, settled: int) -> Account:
    agreed = quote.total if quote and quote.state == Quote.State.ACCEPTED else 0
    return Account(quote=quote, agreed=agreed, paid=paid, settled=settled)


def balance_of(case: Case) -> int:
    """What is still owed for this case, minor units of its currency."""
    return accounts_of([case.pk])[case.pk].balance


def facts(items: Sequence[Item]) -> Mapping[int, Mapping[str, Any]]:
    """This room's facts about items."""
    accounts = accounts_of(item.case_id for item in items)
    return {item.pk: _facts_of(accounts[item.case_id]) for item in items}


def _facts_of(account: Account) -> dict[str, Any]:
    quote = account.quote
    return {
        "quote": quote.state if quote else "",
        "quote_total": quote.total if quote else None,
        "authorised": bool(quote and quote.state == Quote.State.ACCEPTED),
        "balance": account.balance,
        "money_settled": account.balance <= 0,
    }


def to_price(case: Case) -> list[Item]:
    """Items with what was found about them, for whoever writes the quote."""
    return list(case.items.select_related("thing").prefetch_related("examinations"))


@dataclass(frozen=True)
class MoneySection:
    """The docket's section Quotes & money."""

    account: Account
    quotes: list[Quote]
    payments: list[Payment]
    settlements: list[Settlement]
    currency: str


def money_of(case: Case) -> MoneySection:
    """Quotes newest first, payments and settlements in their order."""
    return MoneySection(
        account=accounts_of([case.pk])[case.pk],
        quotes=list(case.quotes.select_related("by", "case__thing")),
        payments=list(case.payments.select_related("by")),
        settlements=list(case.settlements.select_related("by")),
        currency=case.currency,
    )


@dataclass(frozen=True)
class Waiting:
    """The front of the Office: quotes out, and balances of what is ready to go."""

    quotes: list[Quote]
    owed: list[tuple[Case, int]]
    to_quote: list[Case]


def waiting(request: Any) -> Waiting:
    """What waits for a customer or for us; a fixed number of queries."""
    out = Quote.objects.filter(state=Quote.State.SENT, case__closed=None).select_related("case__thing", "case__owner")
    examined = Case.objects.still_open().with_people().filter(items__stage=Stage.EXAMINED).distinct()
    billed = list(Case.objects.still_open().with_people().filter(quotes__state=Quote.State.ACCEPTED).order_by("pk"))
    accounts = accounts_of(case.pk for case in billed)
    owed = [(case, accounts[case.pk].balance) for case in billed if accounts[case.pk].balance > 0]
    return Waiting(quotes=list(out.order_by("valid_until")[:FRONT]), owed=owed[:FRONT], to_quote=list(examined[:FRONT]))
