"""What the pages of noting and correcting need to know."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from django.db.models import Q

from labcases.custody.actions import case_of
from labcases.custody.models import Break, Event, Thing
from labcases.custody.queries import Entry, entries

MOST_PARTS = 12


def parts_assigned_beside(thing: Thing) -> list[Thing]:
    """Parts from stock that were assigned to the case of this thing, newest first, as the ledger says."""
    case = case_of(thing)
    if not case:
        return []
    events = Event.objects.filter(case_code=case, kind="part-assigned").order_by("-sequence")
    assigned = list(dict.fromkeys(events.values_list("thing_code", flat=True)[:MOST_PARTS]))
    found = Thing.objects.with_whereabouts().in_bulk(assigned, field_name="code")
    return [found[code] for code in assigned if code in found]


def parties_of(thing: Thing) -> Any:
    """The people outside whom the line of this thing names, and those of its case, who may never have had it yet."""
    refs = set()
    for (body,) in Event.objects.filter(thing_code=thing.code).values_list("body"):
        said = json.loads(bytes(body))
        refs |= {said[side]["holder"] or "" for side in ("from", "to")}
    known = [ref.removeprefix("party:") for ref in refs if ref.startswith("party:")]
    parties: Any = Thing._meta.get_field("party").related_model
    return parties._default_manager.filter(Q(ref__in=known) | Q(pk__in=_of_its_case(thing)))


def _of_its_case(thing: Thing) -> set[int]:
    """Owner, bearer and payer of the case that a thing came with, or that it carries data of."""
    came_with = getattr(thing, "item", None) or getattr(thing, "accessory", None)
    case = came_with.case if came_with else getattr(getattr(thing, "destination", None), "held_for", None)
    return {case.owner_id, case.bearer_id, case.payer_id} - {None} if case else set()


@dataclass(frozen=True)
class History:
    """An event and whatever corrects it, oldest first, with the breaks that show at the first of them."""

    events: list[Event]
    entries: list[Entry]
    breaks: list[Break]

    @property
    def first(self) -> Entry:
        return self.entries[0]

    @property
    def now(self) -> Entry:
        """What counts: the newest correction, or the event itself."""
        return self.entries[-1]


def history_of(event: Event) -> History:
    """From any of them: the first event that was meant, then every correction of it or of its corrections."""
    first = event
    while first.corrects:
        first = Event.objects.defer("body").get(sequence=first.corrects)
    found, wave = [first], [first.sequence]
    while wave:
        more = list(Event.objects.defer("body").filter(corrects__in=wave).order_by("sequence"))
        found += more
        wave = [one.sequence for one in more]
    found.sort(key=lambda one: one.sequence)
    breaks = Break.objects.filter(event=first.sequence).select_related("thing")
    return History(found, entries(found), list(breaks))
