"""The verb of arrays: write down how one was put together, as found out on the copies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from labcases.bench.arrays.enough import Member, enough
from labcases.bench.arrays.models import ArrayFinding, ArrayMember
from labcases.cases.models import Case, Item
from labcases.core.refused import Refused
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right


class NoSuchArray(Refused):
    """What is stated cannot be an array."""


@dataclass(frozen=True)
class Found:
    """One member: its place in the order, the item whose copy it is, where its data begins."""

    place: int
    item: Item | None = None
    slot: str = ""
    offset_sectors: int = 0
    stale: bool = False
    usable: bool = True


@recorded
def find_array(
    *,
    case: Case,
    level: str,
    members: int,
    found: Sequence[Found],
    by: Actor,
    happened: datetime,
    stripe_sectors: int | None = None,
    parity: str = "",
    copies: int = 2,
    note: str = "",
) -> ArrayFinding:
    """Write a finding down; the newest one counts. Raises NoSuchArray for what cannot be (places twice, too few)."""
    by.must(Right.EXAMINE)
    judged = enough(level, members, [Member(one.place, one.stale, one.usable) for one in found], copies)
    if judged.mistakes:
        raise NoSuchArray(judged.sentence, why=judged.mistakes)
    made = ArrayFinding.objects.create(
        case=case, level=level, members=members, stripe_sectors=stripe_sectors, parity=parity, copies=copies,
        note=note, **Entry.stamp(by, happened),
    )  # fmt: skip
    ArrayMember.objects.bulk_create(
        ArrayMember(
            finding=made, item=one.item, place=one.place, slot=one.slot, offset_sectors=one.offset_sectors,
            stale=one.stale, usable=one.usable,
        )
        for one in found
    )  # fmt: skip
    said = f"{made}; {judged.sentence}"
    record("array-found", thing=case.thing, by=by, happened=happened, because=said, case=case.code)
    return made
