"""Finding people while somebody types, and everything that is known of one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, Max

from labcases.core.text import folded, one_line
from labcases.people import phone
from labcases.people.models import Party, PartyQuerySet

SHORTEST = 2
DIGITS = 4
WHOLE = 6


@dataclass(frozen=True)
class FoundParty:
    """One line of the list: who, and how often they were here."""

    party: Party
    reach: str
    cases: int
    last: datetime | None


def matching(typed: str, *, country: str = "", limit: int = 8) -> list[FoundParty]:
    """Who may be meant by a name, a firm, an e-mail or the end of a number; nobody while too little is typed.

    Two queries: the parties first, then the cases of those few.
    """
    parties = list(_parties(one_line(typed)[:300])[:limit])
    counted = Party.objects.filter(pk__in=[p.pk for p in parties]).annotate(
        cases=Count("cases_owned"), last=Max("cases_owned__happened")
    )
    had = {pk: (cases, last) for pk, cases, last in counted.order_by().values_list("pk", "cases", "last")}
    return [FoundParty(party, _reach(party, country), *had[party.pk]) for party in parties]


def _reach(party: Party, country: str) -> str:
    return phone.shown(party.phone, country) if party.phone else party.email


def _parties(typed: str) -> PartyQuerySet:
    digits = "".join(c for c in folded(typed) if c.isdigit())
    if digits and not any(c.isalpha() for c in typed):
        # A whole number loses the nought that is dialled inside the country; the last four digits may begin with one.
        end = digits.lstrip("0") if len(digits) > WHOLE else digits
        return Party.objects.filter(phone__endswith=end) if len(end) >= DIGITS else Party.objects.none()
    return Party.objects.found_by(typed) if len(folded(typed)) >= SHORTEST else Party.objects.none()
