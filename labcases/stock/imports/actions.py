"""Donors and media out of a table: written in lots, corrected one by one as a clerk would, taken back in lots."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from typing import Any

from labcases.core import codes
from labcases.core.text import folded_serial
from labcases.custody.actions import mint_many
from labcases.custody.models import Thing
from labcases.imports.kinds import Judged
from labcases.lab.models import Actor, Entry, Profile
from labcases.stock.actions import change_destination, change_donor
from labcases.stock.imports import fields
from labcases.stock.models import Destination, Donor, DonorPart, Family
from labcases.stock.rules import PartKind

KINDS_OF_USE = {"clone": ("W", Thing.Kind.DESTINATION), "delivery": ("M", Thing.Kind.DELIVERY)}


def write_donors(batch: int, judged: Sequence[Judged], by: Actor, happened: datetime) -> None:
    """Donors with their parts. Call it inside a ``recorded`` action."""
    currency, stamp = Profile.current().currency, Entry.stamp(by, happened)
    donors = [Donor(**_fields(one, fields.OF_DONOR), currency=currency, **stamp) for one in judged]
    things = _things(batch, donors, judged, mint_many("D", len(donors)), "D", Thing.Kind.DONOR, by)
    for donor, thing in zip(donors, things, strict=True):
        donor.thing = thing
    Donor._base_manager.bulk_create(donors)
    listed = [(donor, part, n, one) for donor, one in zip(donors, judged, strict=True) for n, part in _parts(one)]
    parts = Thing._base_manager.bulk_create([_part_thing(batch, *each[:3]) for each in listed])
    DonorPart._base_manager.bulk_create(
        [
            DonorPart(donor=donor, part=part, thing=thing, heads_alive=_alive(part, one), **stamp)
            for (donor, part, _, one), thing in zip(listed, parts, strict=True)
        ]
    )


def write_media(batch: int, judged: Sequence[Judged], by: Actor, happened: datetime) -> None:
    """Destinations and delivery media. Call it inside a ``recorded`` action."""
    currency, stamp = Profile.current().currency, Entry.stamp(by, happened)
    uses = [one.ready.get("use", "clone") for one in judged]
    numbers = {use: iter(mint_many(KINDS_OF_USE[use][0], count)) for use, count in Counter(uses).items()}
    media = []
    for one, use in zip(judged, uses, strict=True):
        series, kind = KINDS_OF_USE[use]
        about = _fields(one, (*fields.SHARED, "state")) | {"use": use}
        about.setdefault("sector_bytes", 512)
        medium = Destination(**about, currency=currency, **stamp)
        medium.thing = _thing(batch, medium, codes.stock_body(series, next(numbers[use])), kind, one, by)
        media.append(medium)
    Thing._base_manager.bulk_create([medium.thing for medium in media])
    for medium in media:
        medium.thing_id = medium.thing.pk
    Destination._base_manager.bulk_create(media)


def _fields(one: Judged, names: Sequence[str]) -> dict[str, Any]:
    return {name: one.ready[name] for name in names if one.ready.get(name) is not None}


def _alive(part: str, one: Judged) -> str:
    return str(one.ready.get("heads_alive", "")) if part == PartKind.HEAD_STACK else ""


def _parts(one: Judged) -> Iterator[tuple[int, str]]:
    yield from enumerate(one.ready["parts"], start=1)


def _things(
    batch: int, rows: Sequence[Any], judged: Sequence[Judged], numbers: range, letter: str, kind: Any, by: Actor
) -> list[Thing]:
    made = [
        _thing(batch, row, codes.stock_body(letter, number), kind, one, by)
        for row, one, number in zip(rows, judged, numbers, strict=True)
    ]
    return list(Thing._base_manager.bulk_create(made))


def _thing(batch: int, row: Any, body: str, kind: Any, one: Judged, by: Actor) -> Thing:
    """Where it lies: on its shelf, else with who brought the table."""
    place = one.ready.get("shelf")
    words, serial = row.medium_words[:300], folded_serial(row.serial)[:100]
    where: dict[str, Any] = {"place": place} if place else {"staff": by.staff}
    return Thing(code=codes.with_check(body), kind=kind, words=words, serial_folded=serial, batch_id=batch, **where)


def _part_thing(batch: int, donor: Donor, part: str, number: int) -> Thing:
    body = codes.item_body(donor.thing.code[:-1], "P", number)
    words = f"{part} of {donor.medium_words}"[:300]
    where = {"place_id": donor.thing.place_id, "staff_id": donor.thing.staff_id}
    return Thing(code=codes.with_check(body), kind=Thing.Kind.PART, words=words, batch_id=batch, **where)


def change_one_donor(
    target: int, changes: dict[str, Any], seen: int, by: Actor, happened: datetime
) -> tuple[dict[str, Any], int]:
    """Correct one donor; what stood there before, and its last event now. Raises Changed."""
    donor = Donor.objects.select_related("family", "thing").get(pk=target)
    before = _before(donor, changes)
    change_donor(donor=donor, seen=seen, by=by, happened=happened, **_revived(changes))
    return before, _last_event(donor)


def change_one_medium(
    target: int, changes: dict[str, Any], seen: int, by: Actor, happened: datetime
) -> tuple[dict[str, Any], int]:
    """Correct one destination or delivery medium, likewise."""
    medium = Destination.objects.select_related("family", "thing").get(pk=target)
    before = _before(medium, changes)
    change_destination(destination=medium, seen=seen, by=by, happened=happened, **_revived(changes))
    return before, _last_event(medium)


def _before(row: Any, changes: dict[str, Any]) -> dict[str, Any]:
    names = {"family": "family_id"}
    return {name: fields.plain(getattr(row, names.get(name, name))) for name in changes}


def _revived(changes: dict[str, Any]) -> dict[str, Any]:
    """Values out of the JSON they were kept as."""
    values = dict(changes)
    if values.get("made"):
        values["made"] = date.fromisoformat(values["made"])
    if values.get("family"):
        values["family"] = Family.objects.get(pk=values["family"])
    return values


def _last_event(row: Any) -> int:
    return int(Thing.objects.values_list("last_event", flat=True).get(pk=row.thing_id))


def clear(batch: int, most: int) -> int:
    """Remove up to so many things of a batch with all that hangs on them. They were shown, and used, by nobody."""
    things = Thing._base_manager.filter(batch=batch)
    # Parts first: a donor goes when nothing of it is left.
    chosen = list(things.filter(kind=Thing.Kind.PART).values_list("pk", flat=True)[:most])
    if chosen:
        DonorPart._base_manager.filter(thing__in=chosen).delete()
    else:
        chosen = list(things.values_list("pk", flat=True)[:most])
        Donor._base_manager.filter(thing__in=chosen).delete()
        Destination._base_manager.filter(thing__in=chosen).delete()
    Thing._base_manager.filter(pk__in=chosen).delete()
    return len(chosen)
