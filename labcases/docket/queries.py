"""What the front pages and the page of a case show."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import groupby
from typing import Any

from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from labcases.cases.models import Case, Item, StageStamp
from labcases.cases.queries import facts_for
from labcases.cases.records.queries import wanted_cases
from labcases.cases.stages import Stage
from labcases.core import sections
from labcases.custody.kinds import KINDS
from labcases.custody.models import Event, Thing
from labcases.custody.queries import newest_corrections, sentence, words_of
from labcases.docket.next_step import Step, next_step
from labcases.docket.rails import Rail, rails_of
from labcases.lab.models import Place, Staff
from labcases.people.models import Party

LINES_OF_DAYBOOK = 200

# Where each verb of a next safe step is done: the address's name, whether it takes the item's code or the case's,
# and what the button says.
VERBS: dict[str, tuple[str, str, str]] = {
    "arrive": ("cases:arrive", "case", "Take the parcel in"),
    "complete-intake": ("cases:complete-intake", "case", "Finish the intake"),
    "identify": ("bench:identify", "item", "Read who it is"),
    "answer-identity": ("bench:answer-identity", "item", "Answer what differs"),
    "lift-wrong-item": ("bench:lift-wrong-item", "item", "Lift the stop"),
    "examine": ("bench:examine", "item", "Record findings"),
    "quote": ("office:quote", "case", "Quote the work"),
    "answer-quote": ("office:answer", "case", "Note the answer"),
    "assign-donor": ("stock:assign-donor", "item", "Find a donor part"),
    "assign-destination": ("stock:assign-destination", "item", "Find a destination"),
    "start-work": ("bench:start-work", "item", "Start the work"),
    "answer-order": ("bench:order", "item", "Answer what is asked"),
    "keep-dump": ("bench:keep-dump", "item", "Keep a dump"),
    "remove-chip": ("bench:remove-chip", "item", "Take a chip off"),
    "map-heads": ("bench:heads", "item", "See heads by sector"),
    "find-array": ("bench:array", "case", "Say how the array was made"),
    "note-step": ("bench:note-step", "item", "Note a step"),
    "record-result": ("bench:record-result", "item", "Record the result"),
    "make-ready": ("bench:make-ready", "item", "Make it ready"),
    "tell": ("updates:write", "case", "Write to the customer"),
    "hand-over": ("handover:hand-over", "case", "Hand over"),
}


@dataclass(frozen=True)
class ItemStep:
    """The next safe step of one item, with the address that does it. ``mine`` when this person may.

    ``later`` is where a step that only asks is passed by.
    """

    item: Item
    step: Step
    whose: str
    action: str
    button: str
    mine: bool
    later: str = ""


@dataclass(frozen=True)
class Line:
    """A line of the day-book."""

    when: datetime
    text: str
    soft: str
    address: str = ""
    corrected: bool = False


@dataclass(frozen=True)
class Day:
    day: date
    lines: list[Line]


@dataclass(frozen=True)
class Docket:
    """Everything on the page of a case but its sections, which load from their own rooms."""

    case: Case
    rails: list[Rail]
    steps: list[ItemStep]
    days: list[Day]
    sections: list[tuple[sections.Section, Any]]
    places: list[dict[str, Any]] = field(default_factory=list)


def docket(case: Case, person: Staff, *, place: str = "") -> Docket:
    """The page of one case."""
    items = list(Item.objects.with_context().filter(case=case, parent=None))  # a chip goes its patient's way
    parts = [(section, section.context(case)) for section in sections.of_docket()]
    return Docket(case, rails(items), steps_of(items, person), daybook(case, place), parts, _places(case, place))


def rails(items: Sequence[Item]) -> list[Rail]:
    """The stage rails of these items, in two queries."""
    history: dict[int, list[tuple[Stage, datetime]]] = {item.pk: [] for item in items}
    for pk, stage, happened in StageStamp.objects.filter(item__in=history).values_list("item", "stage", "happened"):
        history[pk].append((Stage(stage), happened))
    return rails_of([(item.medium_words, item.thing.code, history[item.pk], Stage(item.stage)) for item in items])


def steps_of(items: Iterable[Item], person: Staff) -> list[ItemStep]:
    """The next safe step of each open item; one for all where they are alike."""
    listed = [item for item in items if item.stage not in (Stage.CLOSED, Stage.NEVER_CAME)]
    facts = facts_for(listed)
    found = [_item_step(item, next_step(facts[item.pk]), person) for item in listed]
    if (
        len(found) > 1
        and len({entry.step for entry in found}) == 1
        and VERBS.get(found[0].step.verb, ("", ""))[1] == "case"
    ):
        first = found[0]
        return [ItemStep(first.item, first.step, "all items", first.action, first.button, first.mine)]
    return found


def _item_step(item: Item, step: Step, person: Staff) -> ItemStep:
    mine = step.right in person.rights
    address, button = verb_address(step.verb, item) if mine and step.open else ("", "")
    whose = f"item {item.number}"
    asks = mine and step.grade == "ask" and step.verb != "answer-order"
    later = reverse("bench:order", args=[item.thing.printed_code]) if asks else ""
    return ItemStep(item, step, whose, address, button, mine, later)


def verb_address(verb: str, item: Item) -> tuple[str, str]:
    """Where a verb is done for this item, and what its button says; empty when there is no such page."""
    if verb not in VERBS:
        return "", ""
    name, takes, button = VERBS[verb]
    code = item.thing.printed_code if takes == "item" else item.case.thing.printed_code
    return reverse(name, args=[code]), button


def daybook(case: Case, place: str = "") -> list[Day]:
    """What happened, newest first, day by day in the lab's zone; ``place`` keeps one place's events."""
    events = Event.objects.filter(case_code=case.code).defer("body").order_by("-happened", "-sequence")
    if place:
        events = events.filter(kind__in=[name for name, kind in KINDS.items() if kind.room == place])
    return days_of(list(events[:LINES_OF_DAYBOOK]))


def days_of(events: Sequence[Event]) -> list[Day]:
    """Day-book lines for these events, in three more queries; a corrected one says what is right."""
    newest = newest_corrections([event.sequence for event in events])
    texts = words_of([*(event.sequence for event in events), *newest.values()])
    codes_used = {event.thing_code for event in events}
    words = dict(Thing.objects.filter(code__in=codes_used).values_list("code", "words"))
    meant = set(texts)
    lines = [
        _line(event, texts[event.sequence], words.get(event.thing_code, ""), texts.get(newest.get(event.sequence, 0)))
        for event in events
        if event.corrects not in meant
    ]
    return [Day(day, list(some)) for day, some in groupby(lines, key=lambda line: timezone.localdate(line.when))]


def _line(event: Event, texts: dict[str, str], what: str, right: dict[str, str] | None) -> Line:
    text = right.get("because", "corrected") if right else sentence(event.kind, what, texts)
    soft = f"{(right or texts).get('by', 'erased')} · {event.role}"
    if abs((event.entered - event.happened).total_seconds()) > 3600:
        soft += f" · entered {timezone.localtime(event.entered):%d %b %H:%M}"
    address = reverse("custody:event", args=[event.sequence]) if right else ""
    return Line(event.happened, text, soft, address, corrected=right is not None)


def _places(case: Case, here: str) -> list[dict[str, Any]]:
    base = case.get_absolute_url()
    rooms = dict.fromkeys(kind.room for kind in KINDS.values())
    all_of_it = [{"words": "all", "address": f"{base}#day-book", "here": not here}]
    return all_of_it + [{"words": r, "address": f"{base}?place={r}#day-book", "here": r == here} for r in rooms]


# --- finding --------------------------------------------------------------------------------------------------------

_PAGES = {
    Thing.Kind.DONOR: "stock:donor",
    Thing.Kind.DESTINATION: "stock:destination",
    Thing.Kind.DELIVERY: "stock:destination",
}


def address_of(thing: Thing) -> str:
    """The page on which a thing is seen."""
    if thing.kind == Thing.Kind.PART:
        return reverse("stock:donor", args=[thing.donor_part.donor.thing.printed_code])
    if thing.kind in _PAGES:
        return reverse(_PAGES[Thing.Kind(thing.kind)], args=[thing.printed_code])
    if thing.kind == Thing.Kind.DOCKET:
        return reverse("docket:case", args=[thing.printed_code])
    if thing.kind in (Thing.Kind.PATIENT, Thing.Kind.CHIP):
        return thing.item.get_absolute_url()
    if thing.kind == Thing.Kind.ACCESSORY:
        return f"{thing.accessory.case.get_absolute_url()}#items"
    return reverse("custody:thing", args=[thing.printed_code])


@dataclass(frozen=True)
class Found:
    """What a search found, by what it is."""

    cases: list[Case]
    things: list[Thing]
    parties: list[Party]
    places: list[Place]

    def __bool__(self) -> bool:
        return bool(self.cases or self.things or self.parties or self.places)


def search(words: str, *, limit: int = 20) -> Found:
    """Cases by their people, things by serial or words, people by name or number, places by name."""
    parties = Party.objects.found_by(words)
    cases = Case.objects.with_people().filter(
        Q(owner__in=parties) | Q(bearer__in=parties) | Q(payer__in=parties) | Q(pk__in=wanted_cases(words))
    )
    by_words = Q(words__icontains=words) | Q(pk__in=Thing.objects.known_by_serial(words).values("pk"))
    things = Thing.objects.with_whereabouts().exclude(kind=Thing.Kind.DOCKET).filter(by_words)
    places = Place.objects.filter(name__icontains=words)
    return Found(list(cases.distinct()[:limit]), list(things[:limit]), list(parties[:limit]), list(places[:limit]))


# --- the bench sheet --------------------------------------------------------------------------------------------------


def bench_sheet(person: Staff, *, mine_only: bool = False) -> list[ItemStep]:
    """Every open patient, one row, ordered by what I may do now, then by promise date."""
    here = Item.objects.with_context().filter(case__closed=None, parent=None)
    items = here.exclude(stage__in=[Stage.EXPECTED, Stage.HANDED_OVER])
    if mine_only:
        items = items.filter(case__engineers=person)
    listed = list(items.still_open())
    facts = facts_for(listed)
    rows = [_item_step(item, next_step(facts[item.pk]), person) for item in listed]
    far = date.max
    return sorted(
        rows,
        key=lambda row: (
            not (row.mine and row.step.open),
            row.item.case.promised or far,
            row.item.case_id,
            row.item.number,
        ),
    )
