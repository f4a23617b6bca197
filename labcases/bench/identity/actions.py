"""Reading who a patient is under power; taking a chip off it, which becomes an item of its own."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Max

from labcases.bench.protocol_steps import IDENTIFY
from labcases.bench.protocols.actions import keep_version, must_be_open
from labcases.cases.models import Item, StageStamp
from labcases.cases.readings.actions import Read, identify, must_be_the_right_item
from labcases.cases.readings.models import Reading
from labcases.cases.stages import ENDED, Stage
from labcases.core import codes
from labcases.core.refused import Refused
from labcases.custody.actions import new_thing, record, recorded
from labcases.custody.models import MediumKind, Thing
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right


class NoChip(Refused):
    """Nothing can be taken off this item."""


AT_WORK = (Stage.AUTHORISED, Stage.IN_WORK, Stage.CHECKED)


@recorded
def read_at_bench(*, item: Item, read: Read, by: Actor, happened: datetime) -> Reading:
    """Put on record who a patient says it is. Raises NotInThisOrder while its bench order forbids power.

    A page may say that its tracks overlap: then its order is that of shingled disks, unless that has begun.
    """
    by.must(Right.EXAMINE)
    must_be_open(item, IDENTIFY)
    made = identify(item=item, read=read, by=by, happened=happened)
    keep_version(item=item, by=by, happened=happened)
    return made


@recorded
def remove_chip(*, item: Item, words: str, change: str, by: Actor, happened: datetime, serial: str = "") -> Item:
    """A chip taken off a patient. It has a code of its own (…P1C1), lies where its patient lies, and goes its way.

    Raises NoChip for a chip, or before the work was authorised; WrongItem while the patient is stopped.
    """
    by.must(Right.EXAMINE)
    fresh = Item.objects.with_context().get(pk=item.pk)
    must_be_the_right_item(fresh)
    if fresh.parent_id or Stage(fresh.stage) in ENDED:
        raise NoChip(f"{fresh} is {'a chip itself' if fresh.parent_id else fresh.stage}: nothing is taken off it.")
    if Stage(fresh.stage) not in AT_WORK:
        raise NoChip(
            f"{fresh} is “{fresh.stage}”: taking a chip off cannot be undone, and no authority is on file.",
            mend="Have the work authorised first.",
        )
    chip = _made(fresh, words, serial, by, happened)
    case = fresh.case.code
    record("chip-removed", thing=chip.thing, by=by, happened=happened, because=change, case=case)
    said = f"chip {chip} taken off"
    record("work-noted", thing=fresh.thing, by=by, happened=happened, because=said, change=change, case=case)
    return chip


def _made(patient: Item, words: str, serial: str, by: Actor, happened: datetime) -> Item:
    last = Item.objects.filter(case=patient.case).aggregate(last=Max("number"))["last"] or 0
    chip = Item(
        case=patient.case, parent=patient, number=last + 1, stage=patient.stage, kind=MediumKind.FLASH_CHIP,
        model=words, serial=serial, marks=["nothing"], behaviours=["not known"], **Entry.stamp(by, happened),
    )  # fmt: skip
    body = codes.item_body(patient.thing.code[:-1], "C", patient.chips.count() + 1)
    chip.thing = new_thing(
        body, kind=Thing.Kind.CHIP, words=chip.medium_words, serial=serial, at=patient.thing.whereabouts
    )
    chip.save()
    StageStamp.objects.create(item=chip, stage=chip.stage, **Entry.stamp(by, happened))
    return chip
