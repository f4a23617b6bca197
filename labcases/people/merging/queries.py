"""What names a customer, who else may be the same one, and what became of a record."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import ForeignObjectRel, Model, Q

from labcases.core.text import folded
from labcases.people.lookup import LONGEST
from labcases.people.merging.models import PartyMerge
from labcases.people.models import Party, PartyWord

TWINS = 8  # as many as a page shows

# What names a party and stays with her when her record goes into another, and why.
STAYS = {
    "people.PartyWord.party": "the words she is found under are made anew",
    "people.PartyMerge.kept": "says what was done",
    "people.PartyMerge.gone": "says what was done",
    "custody.Thing.party": "says whom the ledger's last event of the thing named, and the ledger is not rewritten",
}


@dataclass(frozen=True)
class Naming:
    """One field, of whichever room, that names a party."""

    model: type[Model]
    field: str

    @property
    def label(self) -> str:
        return f"{self.model._meta.label}.{self.field}"


def namings() -> list[Naming]:
    """Every field that names a party and moves with her, found through the models themselves.

    A room that is written later is found too. What may name a party once only cannot simply be moved: a test asks
    that it is named in ``STAYS``.
    """
    found = [Naming(relation.related_model, relation.field.name) for relation in pointing()]
    return [one for one in found if one.label not in STAYS]


def pointing() -> list[Any]:
    """Every relation that points at a party, of every room."""
    related = Party._meta.get_fields(include_hidden=True)
    return [one for one in related if isinstance(one, ForeignObjectRel) and not one.many_to_many]


def twins(party: Party) -> list[Party]:
    """Other records that may be the same customer: the same number, or the same e-mail address."""
    same = Q(pk__in=[])
    if party.phone:
        same |= Q(phone=party.phone)
    if party.email:
        same |= Q(pk__in=PartyWord.objects.filter(word=folded(party.email)[:LONGEST]).values("party"))
    return list(Party.objects.standing().filter(same).exclude(pk=party.pk).order_by("pk")[:TWINS])


def where_it_went(party: Party) -> PartyMerge | None:
    """The merge by which this record went into another; None while it stands by itself."""
    return party.went.standing().select_related("kept", "by").first() if party.merged_into_id else None


def came_into(party: Party) -> list[PartyMerge]:
    """The records that went into this one and were not parted again."""
    return list(party.merges.standing().select_related("gone", "by"))


@dataclass(frozen=True)
class Attached:
    """How much hangs on a record, for the one who compares two."""

    owned: int
    brought: int
    paid: int


def attached(party: Party) -> Attached:
    def count(related: str) -> int:
        return int(getattr(party, related).count())

    return Attached(count("cases_owned"), count("cases_brought"), count("cases_paid"))
