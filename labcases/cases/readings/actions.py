"""The verbs of readings: read at the counter or the bench, answer what differs, lift the stop."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from labcases.cases.actions import correct_item
from labcases.cases.models import Case, Item
from labcases.cases.readings import comparing
from labcases.cases.readings.comparing import NAMES, SWAPPED, TYPO, WRONG
from labcases.cases.readings.models import Reading
from labcases.cases.stages import RIGHT_ITEM
from labcases.core import vault
from labcases.core.refused import Refused
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right
from labcases.media.errors import NotAPage
from labcases.media.findings import LOCKED, findings
from labcases.media.reading import read_any, traits_of


class NotReadable(Refused):
    """What was pasted or dropped is no page of a medium."""


class WrongItem(Refused):
    """Nothing is done to an item that is not the one that was taken in."""


class NotAnswered(Refused):
    """A difference that nobody has answered, or that was answered in the meantime."""


@dataclass(frozen=True)
class Read:
    """A page that was read and is not kept yet. ``fields`` are those of Reading."""

    said: dict[str, Any]
    fields: dict[str, Any]
    raw: bytes = b""


def read_page(given: bytes | str) -> Read:
    """Read a page or a hex listing of one. Raises NotReadable with the reader's own sentence."""
    raw = given.encode() if isinstance(given, str) else given
    try:
        record_ = read_any(given)
    except NotAPage as fault:
        mend = "Give the page of 512 or 4096 bytes or the register of 16, as it is or as a hex listing."
        raise NotReadable(str(fault), mend=mend) from None
    known = traits_of(record_).known()
    said = {name: known[name] for name in NAMES if name in known}
    if getattr(record_, "shingled", False):
        said["recording"] = "shingled"
    found = findings(record_)
    fields = {
        "source": Reading.Source.PAGE,
        "what": found.what,
        "pairs": [list(pair) for pair in found.pairs],
        "loud": list(found.loud),
        "notes": list(found.notes),
        "whole": not getattr(record_, "service_area_signs", ()),
        "locked": LOCKED in found.loud,
    }
    return Read(said, fields, raw)


def as_shown(said: Mapping[str, Any], *, locked: bool = False) -> Read:
    """What somebody typed from what a machine shows."""
    known = {name: said[name] for name in NAMES if said.get(name)}
    pairs = [[NAMES[name], str(value)] for name, value in known.items()]
    loud = [LOCKED] if locked else []
    return Read(known, {"source": Reading.Source.SHOWN, "pairs": pairs, "loud": loud, "locked": locked})


def read_for_draft(*, draft: UUID, read: Read, filled: Sequence[str], by: Actor, happened: datetime) -> Reading:
    """Keep a page that was read while a drive is taken in; it waits with the draft until there is an item."""
    by.must(Right.TAKE_IN)
    return _kept(read, by, happened, draft=draft, filled=list(filled))


@recorded
def tie_to_items(*, case: Case, draft: UUID, readings: Sequence[int | None], by: Actor, happened: datetime) -> None:
    """The items of a case are there now: each gets the reading that its form named. ``readings`` in their order."""
    by.must(Right.TAKE_IN)
    for item, key in zip(case.items.select_related("thing").order_by("number"), readings, strict=False):
        if key and Reading.objects.filter(pk=key, draft=draft).update(item=item, draft=None):
            made = Reading.objects.get(pk=key)
            if made.said.get("recording"):
                Item.objects.filter(pk=item.pk, recording="").update(recording=made.said["recording"])
            record("identified", thing=item.thing, by=by, happened=happened, because=_said(made), case=case.code)


@recorded
def identify(*, item: Item, read: Read, by: Actor, happened: datetime) -> Reading:
    """Put on record who a patient says it is. What nobody had noted is filled in; what differs waits for an answer."""
    by.must(Right.EXAMINE)
    noted = {name: getattr(item, name) for name in NAMES}
    filled = comparing.blanks_filled(noted, read.said, whole=read.fields.get("whole", True))
    if read.said.get("recording") and not item.recording:
        filled["recording"] = read.said["recording"]
    made = _kept(read, by, happened, item=item, filled=list(filled))
    if by.staff:
        item.case.engineers.add(by.staff)
    record("identified", thing=item.thing, by=by, happened=happened, because=_said(made), case=item.case.code)
    if filled:
        correct_item(item=item, changes=filled, by=by, happened=happened, because=made.get_source_display())
    return made


@recorded
def answer(
    *, reading: Reading, answers: Mapping[str, str], by: Actor, happened: datetime, because: str = ""
) -> Reading:
    """Say of each difference what it means; a wrong item is stopped. Raises NotAnswered when one is left out."""
    by.must(Right.EXAMINE)
    reading = Reading.objects.select_related("item").get(pk=reading.pk)
    item = Item.objects.with_context().get(readings=reading)
    waiting = {line.name: line for line in comparing.open_lines(lines_of(reading))}
    if not waiting or set(answers) != set(waiting):
        left = ", ".join(line.label for name, line in waiting.items() if name not in answers)
        raise NotAnswered(
            f"Not answered: {left}." if left else "These differences were answered already.",
            mend="Answer each of them." if left else "Open the reading again and look.",
        )
    typos = {name: reading.said[name] for name, said in answers.items() if said == TYPO}
    reading.answers = {**reading.answers, **answers}
    reading.wrong_item = WRONG in answers.values()
    reading.save(update_fields=["answers", "wrong_item"])
    said = "; ".join(f"{waiting[name].label.lower()}: {_ANSWERED[what]}" for name, what in answers.items())
    kind = "wrong-item" if reading.wrong_item else "identity-answered"
    words = f"{said} ({because})" if because else said
    record(kind, thing=item.thing, by=by, happened=happened, because=words, case=item.case.code)
    if typos:
        correct_item(item=item, changes=typos, by=by, happened=happened, because="as the medium says of itself")
    return reading


_ANSWERED = {TYPO: "noted wrongly", SWAPPED: "board swapped", WRONG: "wrong item"}


@recorded
def lift_wrong_item(*, item: Item, by: Actor, happened: datetime, because: str) -> Item:
    """A manager lets an item go on that was stopped as the wrong one, with the reason."""
    by.must(Right.LIFT_STOP)
    stops = Reading.objects.stopping().filter(item=item)
    if not stops.update(lifted=happened, lifted_by=by.staff, lifted_because=because):
        raise NotAnswered(f"{item} is not stopped.", mend="Reload the page and look again.")
    said = f"wrong item: {because}"
    record("stop-lifted", thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)
    return item


def must_be_the_right_item(item: Item) -> None:
    """For verbs that enter no stage. Raises WrongItem while the stop stands."""
    if Reading.objects.stopping().filter(item=item).exists():
        raise WrongItem(f"{item} is stopped: {RIGHT_ITEM.because}", mend=RIGHT_ITEM.lift)


def lines_of(reading: Reading) -> list[comparing.Line]:
    """The comparison of a reading with what is noted of its item now."""
    noted = {name: getattr(reading.item, name) for name in NAMES}
    return comparing.compare(noted, reading.said, whole=reading.whole, answers=reading.answers)


def _kept(read: Read, by: Actor, happened: datetime, **about: Any) -> Reading:
    page = vault.put(read.raw) if read.raw else ""
    return Reading.objects.create(said=read.said, page=page, **read.fields, **about, **Entry.stamp(by, happened))


def _said(made: Reading) -> str:
    names = " ".join(str(made.said[name]) for name in ("model", "serial") if made.said.get(name))
    return f"{made.get_source_display()}: {names or 'no name, no serial'}"
