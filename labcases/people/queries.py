"""Finding people while somebody types, and everything that is known of one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, Exists, Max, OuterRef

from labcases.core.text import one_line
from labcases.people import phone
from labcases.people.lookup import beginnings
from labcases.people.models import Party, PartyWord

SHORTEST = 2  # letters; fewer begin too many words
COMMON = 5_000  # as many words are counted at most to tell a rare one from a common one
WORDS_OF_ONE = 4  # a party may be met more than once: each word of hers may begin so


@dataclass(frozen=True)
class FoundParty:
    """One line of the list: who, and how often they were here."""

    party: Party
    reach: str
    cases: int
    last: datetime | None


def standing(party: Party) -> Party:
    """Who this customer is now, read afresh: the record may have gone into another since it was looked up."""
    return Party.objects.select_related("merged_into").get(pk=party.pk).stands_as


def matching(typed: str, *, country: str = "", limit: int = 8) -> list[FoundParty]:
    """Who may be meant by beginnings of words or the end of a number; nobody while too little is typed.

    Two queries, both bound by an index: the keys of the first few parties, then those with their cases. Of several
    words each is first counted, no further than needed to begin with the rarest.
    """
    keys = _first(beginnings(one_line(typed)[:300]), limit) if len(one_line(typed)) >= SHORTEST else []
    parties = Party.objects.filter(pk__in=keys).annotate(cases=Count("cases_owned"), last=Max("cases_owned__happened"))
    by_key = {party.pk: party for party in parties.order_by()}
    found = [by_key[key] for key in keys if key in by_key]  # some may not be shown yet
    return [FoundParty(party, _reach(party, country), party.cases, party.last) for party in found]


def _how_common(spellings: list[str]) -> tuple[int, int]:
    """How many words begin so, counted no further than to COMMON; among common ones the longer says more."""
    return PartyWord.objects.beginning(spellings).order_by()[:COMMON].count(), -len(spellings[0])


def of_one_number(found: list[FoundParty]) -> list[Party]:
    """The first two of a list who have the same phone number: perhaps one customer in two records."""
    first: dict[str, Party] = {}
    for party in (one.party for one in found if one.party.phone):
        if party.phone in first:
            return [first[party.phone], party]
        first[party.phone] = party
    return []


def _first(wanted: list[list[str]], limit: int) -> list[int]:
    """Keys of the first parties in the order of the rarest word, who are kept under all the others too."""
    if not wanted:
        return []
    rarest, *others = sorted(wanted, key=_how_common) if len(wanted) > 1 else wanted
    rows = PartyWord.objects.beginning(rarest)
    for spellings in others:
        rows = rows.filter(Exists(PartyWord.objects.beginning(spellings).filter(party=OuterRef("party"))))
    several = rows.order_by("word").values_list("party", flat=True)[: limit * WORDS_OF_ONE]
    return list(dict.fromkeys(several))[:limit]


def _reach(party: Party, country: str) -> str:
    return phone.shown(party.phone, country) if party.phone else party.email
