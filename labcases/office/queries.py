"""Who owes what, and whether a case has its authority."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Sum

from labcases.cases.models import Case, Item
from labcases.office.models import Payment, Quote, Settlement


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
