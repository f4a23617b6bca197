"""Reads of the bench order: an item's protocol, its facts, how it stands, what a new version would change."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from typing import Any

from django.db.models import Count, Q
from django.db.models.functions import TruncMonth
from django.utils import timezone

from labcases.bench.arrays.models import ArrayFinding
from labcases.bench.models import Dump, Examination, Step
from labcases.bench.protocol import Grade, Judgement, Protocol, Standing, State, StepState, judge
from labcases.bench.protocol_defaults import DEFAULTS, KINDS, kind_of
from labcases.bench.protocol_facts import named, suspicions
from labcases.bench.protocol_record import from_record
from labcases.bench.protocols.models import KeptProtocol, OrderNote, ProtocolVersion
from labcases.bench.reading.models import HeadMap
from labcases.cases.facts import Facts
from labcases.cases.models import Case, Item
from labcases.cases.queries import facts_for
from labcases.cases.stages import ENDED, Stage
from labcases.custody.models import Event, EventText
from labcases.stock.models import Destination, DestinationAssignment

LIKE_DISKS = ("disk", "helium", "shingled")  # between these an order changes when more is learned of the medium
BENCH_STAGES = (Stage.RECEIVED, Stage.EXAMINED, Stage.QUOTED, Stage.AUTHORISED, Stage.IN_WORK, Stage.CHECKED)


@lru_cache(maxsize=64)
def _read(kind: str, steps: str) -> Protocol:
    return from_record(kind, json.loads(steps))


def protocol_of(version: ProtocolVersion) -> Protocol:
    """A version as the judgement takes it; read once, however many items keep it."""
    return _read(version.kind, json.dumps(version.steps))


def newest(kind: str) -> ProtocolVersion | None:
    """The last version of a kind; None while only the delivered one is in use."""
    return ProtocolVersion.objects.filter(kind=kind).newest().first()


# --- facts ------------------------------------------------------------------------------------------------------------


def order_facts(items: Sequence[Item]) -> Mapping[int, dict[str, Any]]:
    """What the bench order adds to the facts of items, in a fixed number of queries."""
    keys = [item.pk for item in items]
    protocols, known, notes = _protocols(items), _known(items), _notes(keys)
    return {
        pk: {
            "bench_order": protocols[pk],
            "bench_known": frozenset(known[pk]),
            "order_noted": frozenset(key for key, how in notes[pk] if how == OrderNote.How.DONE),
            "order_lifted": frozenset(key for key, how in notes[pk] if how != OrderNote.How.DONE),
        }
        for pk in keys
    }


def _protocols(items: Sequence[Item]) -> dict[int, Protocol]:
    """The protocol of each item: the one it keeps, else the newest of its kind, else the delivered one."""
    kept = dict(KeptProtocol.objects.filter(item__in=items).values_list("item", "version"))
    last = Q(pk__in=ProtocolVersion.objects.newest().values("pk"))
    versions = {version.pk: version for version in ProtocolVersion.objects.filter(last | Q(pk__in=kept.values()))}
    newest: dict[str, Protocol] = {}
    for version in sorted(versions.values(), key=lambda version: version.number):
        newest[version.kind] = protocol_of(version)
    return {
        item.pk: protocol_of(versions[kept[item.pk]]) if item.pk in kept else _started_with(item, newest)
        for item in items
    }


def _started_with(item: Item, newest: Mapping[str, Protocol]) -> Protocol:
    kind = kind_of(item.kind, item.nature)
    return newest.get(kind, DEFAULTS[kind])


def _notes(keys: Sequence[int]) -> dict[int, list[tuple[str, str]]]:
    notes: dict[int, list[tuple[str, str]]] = {pk: [] for pk in keys}
    for pk, key, how in OrderNote.objects.standing().filter(item__in=keys).values_list("item", "key", "how"):
        notes[pk].append((key, how))
    return notes


def _known(items: Sequence[Item]) -> dict[int, set[str]]:
    """Facts of this room and of the stockroom that only the bench order asks for, by their names."""
    known: dict[int, set[str]] = {item.pk: {"slot-known"} if item.slot else set() for item in items}
    looks = Examination.objects.filter(item__in=known).order_by("pk").values_list("item", "faults")
    for pk, faults in dict(looks).items():
        known[pk] |= suspicions(faults)
    for pk in Step.objects.filter(item__in=known, wrote=Step.Wrote.FIRMWARE).values_list("item", flat=True):
        known[pk].add("firmware-written")
    for pk in HeadMap.objects.filter(item__in=known).values_list("item", flat=True):
        known[pk].add("heads-mapped")
    arrays = set(ArrayFinding.objects.filter(case__in={item.case_id for item in items}).values_list("case", flat=True))
    for item in items:
        known[item.pk] |= {"array-worked-out"} if item.case_id in arrays else set()
    _of_dumps(known)
    _of_destinations({item.pk: item for item in items}, known)
    return known


def _of_dumps(known: dict[int, set[str]]) -> None:
    """Dumps of an item; a chip's reads are also known of the patient that it was taken off."""
    chips: dict[int, int] = {}
    dumps = Dump.objects.filter(Q(item__in=known) | Q(item__parent__in=known)).select_related("item")
    for dump in dumps:
        item = dump.item
        if item is None:
            continue
        if dump.kind == Dump.Kind.CHIP:
            for pk in {item.pk, item.parent_id or item.pk} & known.keys():
                chips[pk] = chips.get(pk, 0) + bool(dump.file) + bool(dump.second)
        elif item.pk in known:
            known[item.pk].add("service-area-kept")
            if dump.twice:
                known[item.pk].add("backup-read-twice")
    for pk, reads in chips.items():
        known[pk] |= {"chip-kept", "chip-read-twice"} if reads > 1 else {"chip-kept"} if reads else set()


def _of_destinations(items: Mapping[int, Item], known: dict[int, set[str]]) -> None:
    """Room on the destinations that serve an item, and whether one of them is held for another case."""
    serving = DestinationAssignment.objects.filter(
        item__in=items, ended=None, destination__use=Destination.Use.CLONE
    ).values_list("item", "destination__sectors", "destination__sector_bytes", "destination__held_for")
    room: dict[int, int] = {}
    for pk, sectors, sector_bytes, held_for in serving:
        room[pk] = room.get(pk, 0) + (sectors or 0) * (sector_bytes or 512)
        if held_for not in (None, items[pk].case_id):
            known[pk].add("destination-foreign")
    for pk, size in room.items():
        item = items[pk]
        if item.sectors and size < item.sectors * (item.sector_bytes or 512):
            known[pk].add("destination-short")


# --- one item, one case -----------------------------------------------------------------------------------------------


def judged(facts: Facts) -> Judgement:
    """How an item stands in its bench order."""
    protocol = facts.bench_order or DEFAULTS["plain"]
    return judge(protocol, named(facts), facts.order_lifted)


@dataclass(frozen=True)
class OrderLine:
    """One step as a page shows it, with what was noted about it.

    ``standing`` leaves out what waits for something else that is said already; ``liftable`` is what a manager may lift
    here: stops of the step's own, and the step itself where another one waits for it.
    """

    state: StepState
    note: OrderNote | None
    lifted: Sequence[OrderNote]
    standing: Sequence[Standing] = ()
    liftable: Sequence[Standing] = ()

    @property
    def sign(self) -> str:
        """Its mark; an open step has none."""
        return {State.DONE: "done", State.PASSED: "not applicable", State.STOPPED: "no"}.get(self.state.state, "")

    @property
    def word(self) -> str:
        if self.state.step.never:
            return "never"
        if self.state.state is State.OPEN and self.state.step.grade is Grade.REMIND:
            return "keep in mind"
        if self.state.state is State.PASSED and self.note and self.note.how == OrderNote.How.LIFTED:
            return "lifted"
        return str(self.state.state)


@dataclass(frozen=True)
class ItemOrder:
    """The bench order of one item. ``version`` is None while it goes by what was delivered or is newest."""

    item: Item
    judgement: Judgement
    lines: Sequence[OrderLine]
    version: ProtocolVersion | None
    kind_words: str
    behind: ProtocolVersion | None
    active: bool
    due_kind: str = ""

    @property
    def due_words(self) -> str:
        """What it is known to be by now, where its order is that of another kind of medium."""
        return KINDS[self.due_kind] if self.due_kind else ""

    @property
    def count(self) -> int:
        """Steps that count: all that are needed and no mere reminders or prohibitions."""
        return len([line for line in self.lines if self._counts(line)])

    @property
    def count_settled(self) -> int:
        settled = (State.DONE, State.PASSED)
        return len([line for line in self.lines if self._counts(line) and line.state.state in settled])

    @staticmethod
    def _counts(line: OrderLine) -> bool:
        return not line.state.step.never and line.state.step.grade is not Grade.REMIND


def order_of(items: Sequence[Item]) -> list[ItemOrder]:
    """The bench order of these items, in a fixed number of queries."""
    facts = facts_for(items)
    standing = OrderNote.objects.standing().filter(item__in=items).select_related("by")
    notes: dict[int, list[OrderNote]] = {}
    for note in standing:
        notes.setdefault(note.item_id, []).append(note)
    kept = {row.item_id: row.version for row in KeptProtocol.objects.filter(item__in=items).select_related("version")}
    last = {version.kind: version for version in ProtocolVersion.objects.newest().defer("steps")}
    return [_order(item, facts[item.pk], notes.get(item.pk, []), kept.get(item.pk), last) for item in items]


def _order(
    item: Item,
    facts: Facts,
    notes: Sequence[OrderNote],
    version: ProtocolVersion | None,
    last: Mapping[str, ProtocolVersion],
) -> ItemOrder:
    judgement = judged(facts)
    lines = [_line(state, notes, judgement) for state in judgement.steps]
    own = kind_of(item.kind, item.nature)
    kind = version.kind if version else own
    newer = last.get(kind)
    behind = newer if version and newer and newer.number > version.number else None
    return ItemOrder(
        item,
        judgement,
        lines,
        version or newer,
        KINDS[kind],
        behind,
        Stage(item.stage) not in (*ENDED, Stage.HANDED_OVER),
        own if kind in LIKE_DISKS and own in LIKE_DISKS and kind != own else "",
    )


def _line(state: StepState, notes: Sequence[OrderNote], judgement: Judgement) -> OrderLine:
    own = next((note for note in notes if note.key == state.key), None)
    lifted = [note for note in notes if note.key.startswith(f"{state.key}/")]
    return OrderLine(state, own, lifted, _first_standing(state, judgement), _liftable(state, judgement))


def _first_standing(state: StepState, judgement: Judgement) -> list[Standing]:
    """Its own stops, and of the steps before it only those that wait for no other step themselves."""
    if state.step.never:
        return []
    waiting = {other.key for other in judgement.steps if any("/" not in one.key for one in other.standing)}
    return [one for one in state.standing if one.key not in waiting]


def _liftable(state: StepState, judgement: Judgement) -> list[Standing]:
    own = {one.key: one for one in state.standing if "/" in one.key}
    waited_for = (one for other in judgement.steps for one in other.standing if one.key == state.key)
    found = own | {one.key: one for one in waited_for if not state.step.never}
    return [one for one in found.values() if one.grade is Grade.STOP and not one.always]


def section(case: Case) -> list[ItemOrder]:
    """The docket's section: one order a patient; what was taken off one goes its patient's way."""
    items = Item.objects.with_context().filter(case=case, parent=None)
    return order_of([item for item in items if item.stage not in (Stage.EXPECTED, Stage.NEVER_CAME)])


# --- versions ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class KindRow:
    """One kind of medium on the list of protocols."""

    kind: str
    words: str
    version: ProtocolVersion | None
    steps: int
    open_patients: int


def kinds() -> list[KindRow]:
    """Every protocol, with how many open patients go by it."""
    last = {version.kind: version for version in ProtocolVersion.objects.newest().select_related("by")}
    counts: dict[str, int] = {}
    kept = dict(KeptProtocol.objects.filter(item__in=_open_items()).values_list("item", "version__kind"))
    for item in _open_items().select_related("family"):
        kind = kept.get(item.pk) or kind_of(item.kind, item.nature)
        counts[kind] = counts.get(kind, 0) + 1
    return [
        KindRow(kind, words, last.get(kind), _steps_in(kind, last.get(kind)), counts.get(kind, 0))
        for kind, words in KINDS.items()
    ]


def _steps_in(kind: str, version: ProtocolVersion | None) -> int:
    return len((protocol_of(version) if version else DEFAULTS[kind]).steps)


def _open_items() -> Any:
    return Item.objects.filter(parent=None, stage__in=BENCH_STAGES, case__closed=None)


@dataclass(frozen=True)
class Change:
    """What another version would mean for one open patient."""

    item: Item
    before: str
    after: str
    opened: Sequence[str]
    stopped: Sequence[str]

    @property
    def alike(self) -> bool:
        return self.before == self.after and not self.opened and not self.stopped


def what_would_change(protocol: Protocol) -> list[Change]:
    """For every open patient of this kind: its next step now and then, and steps that it would open or stop."""
    items = [item for item in _open_items().with_context() if kind_of(item.kind, item.nature) == protocol.kind]
    facts = facts_for(items)
    return [_change(item, facts[item.pk], protocol) for item in items]


def _change(item: Item, facts: Facts, protocol: Protocol) -> Change:
    before, after = judged(facts), judged(replace(facts, bench_order=protocol))
    old, new = ({state.step.key: state for state in one.steps} for one in (before, after))
    opened = [s.step.what for key, s in new.items() if s.state is State.OPEN and _state(old, key) is not State.OPEN]
    stopped = [s.step.what for key, s in new.items() if s.state is State.STOPPED and _state(old, key) is State.OPEN]
    return Change(item, _next_words(before), _next_words(after), opened, stopped)


def _state(states: Mapping[str, StepState], key: str) -> State | None:
    return states[key].state if key in states else None


def _next_words(judgement: Judgement) -> str:
    if judgement.next:
        return judgement.next.step.what
    return f"stopped: {judgement.held.step.what}" if judgement.held else "nothing is left"


# --- liftings, month by month -----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Month:
    """How often a stop was lifted and an ask passed by in one month."""

    month: datetime
    lifted: int
    passed: int


def liftings_by_month(months: int = 12) -> list[Month]:
    """The last months in which something was lifted or passed by, newest first; every room's liftings count."""
    lifted = _by_month(Event.objects.filter(kind="stop-lifted"))
    passed = _by_month(OrderNote.objects.filter(how=OrderNote.How.PASSED))
    found = [Month(month, lifted.get(month, 0), passed.get(month, 0)) for month in {*lifted, *passed}]
    return sorted(found, key=lambda row: row.month, reverse=True)[:months]


def _by_month(rows: Any) -> dict[datetime, int]:
    month = TruncMonth("happened", tzinfo=timezone.get_current_timezone())
    return dict(rows.order_by().annotate(month=month).values_list("month").annotate(n=Count("pk")))


@dataclass(frozen=True)
class Lifting:
    """One lifted stop, as the ledger has it."""

    event: Event
    because: str
    by: str


def liftings() -> Any:
    """Events of lifted stops, newest first."""
    return Event.objects.filter(kind="stop-lifted").defer("body").order_by("-happened", "-sequence")


def worded(events: Iterable[Event]) -> list[Lifting]:
    """These events with their words, in one more query."""
    listed = list(events)
    texts: dict[int, dict[str, str]] = {event.sequence: {} for event in listed}
    for sequence, name, text in EventText.objects.filter(sequence__in=texts).values_list("sequence", "field", "text"):
        texts[sequence][name] = text
    return [
        Lifting(event, texts[event.sequence].get("because", ""), texts[event.sequence].get("by", "erased"))
        for event in listed
    ]
