"""Reads about cases that need more than one table."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.http import Http404

from labcases.cases import facts, intake
from labcases.cases.models import Case, Item
from labcases.cases.stages import Stage
from labcases.core import codes
from labcases.custody.models import Thing
from labcases.lab.models import Staff
from labcases.people.models import Party


def facts_for(items: Iterable[Item]) -> dict[int, facts.Facts]:
    """The facts of each item by its key, read now; a fixed number of queries however many items."""
    fresh = list(Item.objects.with_context().filter(pk__in=[item.pk for item in items]))
    return facts.gather(fresh)


def own_facts(items: Sequence[Item]) -> Mapping[int, Mapping[str, Any]]:
    """What this room itself knows (its provider)."""
    return {item.pk: _facts_of(item) for item in items}


def _facts_of(item: Item) -> dict[str, Any]:
    case, thing = item.case, item.thing
    return {
        "stage": Stage(item.stage),
        "kind": item.kind,
        "spinning": item.spinning,
        "in_the_lab": thing.place_id is not None or thing.staff_id is not None,
        "intake_finished": case.intake_finished is not None,
        "terms_signed": case.terms_signed is not None,
        "may_examine": case.may_examine,
        "may_open": case.may_open,
        "spending_limit": case.spending_limit,
        "no_power_because": tuple(item.no_power_because),
        "disputed": case.disputed,
        "legal_hold": case.legal_hold,
    }


def _read_code(text: str) -> codes.Code:
    try:
        return codes.parse(text)
    except codes.MistypedCode as mistake:
        raise Http404(str(mistake)) from None


def case_for(user: Staff, code: str) -> Case:
    """The case of this code, for somebody who may look. The one door to a case; 404 with a sentence otherwise."""
    read = _read_code(code)
    case = Case.objects.with_people().filter(thing__code=read.folded).first()
    if case is None:
        raise Http404(f"There is no case {read.printed}.")
    return case


def item_for(user: Staff, code: str) -> Item:
    """The item of this code. The one door to an item."""
    read = _read_code(code)
    item = Item.objects.with_context().filter(thing__code=read.folded).first()
    if item is None:
        raise Http404(f"There is no item {read.printed}.")
    return item


@dataclass(frozen=True)
class Known:
    """A serial that was seen before. ``how`` is returning, other or stock: each is said differently."""

    how: str
    code: str
    sentence: str


def known_serials(serial: str, *, owner: Party | None = None, leave_out: Thing | None = None) -> list[Known]:
    """Where this serial was seen before, however it was typed: for the clerk to be told loudly."""
    things = Thing.objects.known_by_serial(serial).select_related("item__case__owner", "item__case__thing")
    return [_known(thing, owner) for thing in things if leave_out is None or thing.pk != leave_out.pk]


def _known(thing: Thing, owner: Party | None) -> Known:
    if thing.kind != Thing.Kind.PATIENT:
        words = f"This serial is one of our own stock: {thing.printed_code}, {thing.words}."
        return Known("stock", thing.printed_code, words)
    case = thing.item.case
    if owner is not None and case.owner_id == owner.pk:
        return Known("returning", str(case), f"It was here before: case {case}, same owner.")
    return Known("other", str(case), f"This serial was here before for {case.owner}: case {case}. Ask whose it is.")


def still_missing(case: Case) -> list[str]:
    """What the intake of this case still lacks."""
    return intake.missing(case, list(case.items.all()), wanted=case.wanted.count())
