"""Parcels: expected, arrived, of an unknown sender, and those that never came."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db.models import Max

from labcases.cases.actions.enquiring import became
from labcases.cases.actions.opening import add_accessory, add_item, move_docket, now_called, open_case, where
from labcases.cases.actions.refusals import NothingToTakeIn, OwnerIsKnown
from labcases.cases.actions.staging import advance, close_when_all_ended
from labcases.cases.actions.taking_in import log_drive
from labcases.cases.actions.telling import note_told
from labcases.cases.intake import NewItem, Told
from labcases.cases.models import Case, Item
from labcases.cases.stages import Stage
from labcases.cases.words import UNKNOWN_SENDER
from labcases.custody.actions import record, record_many, recorded
from labcases.lab.models import Actor, Place
from labcases.lab.roles import Right
from labcases.people.models import Party


@recorded
def expect(
    *, owner: Party, items: Sequence[NewItem], by: Actor, happened: datetime, told: Told | None = None, **about: Any
) -> Case:
    """A case for media that are on their way by post; nothing is in the lab yet. ``about`` as in ``log_drive``."""
    by.must(Right.TAKE_IN)
    enquiry = about.pop("enquiry", None)
    case = open_case(owner, items, by, happened, way=Case.Way.POST, **about)
    made = [add_item(case, new, number, Stage.EXPECTED, by, happened) for number, new in enumerate(items, 1)]
    record_many("expected", things=[i.thing for i in made], by=by, happened=happened, case=case.code)
    note_told(case, told)
    if enquiry:
        became(enquiry, case)
    return case


@recorded
def arrive(
    *,
    case: Case,
    by: Actor,
    happened: datetime,
    items: Sequence[Item] | None = None,
    also: Sequence[NewItem] = (),
    at: Place | None = None,
    condition: str = "",
    damage: Mapping[int, str] | None = None,
    accessories: Sequence[tuple[str, int]] = (),
) -> Case:
    """A parcel of a case came in. ``condition`` is what it looked like, closed and opened.

    ``items`` are those that lay in it (all that are expected, when left out), ``also`` what nobody had announced;
    ``damage`` says of an item, by its key, what it suffered on the way. Raises NothingToTakeIn for an empty parcel.
    """
    by.must(Right.TAKE_IN)
    came = list(items if items is not None else case.items.filter(stage=Stage.EXPECTED))
    if not came and not also:
        raise NothingToTakeIn("Nothing of this case is expected any more.", mend="Open the case to see what came when.")
    to = where(at, by)
    if condition:
        record("parcel-arrived", thing=case.thing, by=by, happened=happened, because=condition, case=case.code)
    for item in came:
        advance(item=item, to=Stage.RECEIVED, by=by, happened=happened)
    first = (case.items.aggregate(last=Max("number"))["last"] or 0) + 1
    came += [add_item(case, new, number, Stage.RECEIVED, by, happened) for number, new in enumerate(also, first)]
    things = [item.thing for item in came]
    record_many("received", things=things, by=by, happened=happened, to=to, because=condition, case=case.code)
    _note_damage(came, damage or {}, by, happened)
    move_docket(case, to)
    for words, count in accessories:
        add_accessory(case, words, count, by, happened, to)
    return case


def _note_damage(items: Sequence[Item], damage: Mapping[int, str], by: Actor, happened: datetime) -> None:
    """What an item suffered on the way stands in its note, and as an event of its own."""
    for item in items:
        if words := damage.get(item.pk):
            item.note = "\n".join(part for part in (item.note, f"Damaged on the way: {words}") if part)
            item.save(update_fields=["note"])
            record(
                "arrived-damaged", thing=item.thing, by=by, happened=happened, because=words, case=item.case.code
            )  # fmt: skip


@recorded
def arrive_unknown(
    *, written: str, items: Sequence[NewItem], condition: str, damage: str, by: Actor, happened: datetime, **about: Any
) -> Case:
    """A parcel that names no sender we know: a case of its own, kept safe until somebody says whose it is.

    ``written`` is everything that stands on it and in it. ``about`` as in ``log_drive``.
    """
    by.must(Right.TAKE_IN)
    owner = Party.objects.create(name=UNKNOWN_SENDER, address=written or "Nothing stands on the parcel.")
    case = log_drive(owner=owner, items=items, way=Case.Way.POST, by=by, happened=happened, **about)
    record("parcel-arrived", thing=case.thing, by=by, happened=happened, because=condition, case=case.code)
    every = list(case.items.select_related("thing", "case"))
    _note_damage(every, dict.fromkeys([item.pk for item in every], damage), by, happened)
    return case


@recorded
def name_owner(*, case: Case, owner: Party, by: Actor, happened: datetime, because: str) -> Case:
    """It is known now whose a parcel is: they take the place of the unknown sender wherever that one stood.

    Raises OwnerIsKnown for a case that has an owner; ownership of that one is disputed, not named.
    """
    by.must(Right.TAKE_IN)
    unknown, [owner] = case.owner, now_called(owner)
    won = Case.objects.filter(pk=case.pk, owner__name=UNKNOWN_SENDER).update(owner=owner)
    if not won:
        raise OwnerIsKnown(
            f"Case {case} has an owner: {unknown}.",
            mend="When somebody else says it is theirs, note that ownership is disputed.",
        )
    case.owner = owner
    for role in ("bearer", "payer"):
        if getattr(case, f"{role}_id") == unknown.pk:
            setattr(case, role, owner)
    case.save(update_fields=["bearer", "payer"])
    record("owner-named", thing=case.thing, by=by, happened=happened, because=f"{owner}; {because}", case=case.code)
    return case


@recorded
def never_came(*, item: Item, by: Actor, happened: datetime, because: str, how: str = "never came") -> Item:
    """An expected item that will not come, or went elsewhere. It was never here, so nothing is handed over."""
    by.must(Right.TAKE_IN)
    advance(item=item, to=Stage.NEVER_CAME, by=by, happened=happened, because=f"{how}: {because}")
    record("ended", thing=item.thing, by=by, happened=happened, because=f"{how}: {because}", case=item.case.code)
    close_when_all_ended(item.case, happened)
    return item
