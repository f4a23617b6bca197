"""The verbs of arrays: write down how one was put together, as found out on the copies, and hold it against them."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from labcases.bench.arrays.enough import Member, enough
from labcases.bench.arrays.holding import NotComparable, held
from labcases.bench.arrays.models import ArrayCheck, ArrayFinding, ArrayMember
from labcases.cases.models import Case, Item
from labcases.core.refused import Refused
from labcases.custody import chain
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right


class NothingHeld(Refused):
    """Pieces that cannot be held against the rule of a level."""


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


def check_array(
    *, finding: ArrayFinding, pieces: Mapping[int, bytes], by: Actor, happened: datetime, where: str = ""
) -> ArrayCheck:
    """Hold the same stretch of every member's copy against the rule of the level; ``pieces`` by their places.

    The sums are worked out before the transaction; the pieces are not kept, their digests are. Raises NothingHeld.
    """
    by.must(Right.EXAMINE)
    if missing := sorted(set(range(finding.members)) - pieces.keys()):
        raise NothingHeld(
            f"The piece of place {missing[0]} is missing.",
            why="Only all members together add up to something that is known.",
            mend="Give a piece of each copy. What is missing can be given back, and cannot be checked.",
        )
    ordered = [pieces[place] for place in range(finding.members)]
    try:
        told = held(finding.level, ordered, copies=finding.copies, stripe_bytes=(finding.stripe_sectors or 0) * 512)
    except NotComparable as wrong:
        raise NothingHeld(str(wrong)) from wrong
    made = ArrayCheck(
        finding=finding, where=where, size=told.size, agreeing=told.agreeing, sentence=told.sentence,
        digests=[hashlib.sha256(piece).hexdigest() for piece in ordered], **Entry.stamp(by, happened),
    )  # fmt: skip
    return _keep(made, by, happened)


@recorded
def _keep(made: ArrayCheck, by: Actor, happened: datetime) -> ArrayCheck:
    made.save()
    case, root = made.finding.case, chain.root([bytes.fromhex(digest) for digest in made.digests]).hex()
    said = f"{made.where}: {made.sentence}" if made.where else made.sentence
    because = f"{said} Tree root of the pieces' SHA-256 {root}"
    record("array-checked", thing=case.thing, by=by, happened=happened, because=because, case=case.code)
    return made
