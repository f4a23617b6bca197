"""What becomes of a row of donors or media: asked of the lab in lots, with the same few queries for any number."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Q

from labcases.core import codes, money
from labcases.core.importing import Fate, shown
from labcases.core.text import folded_serial
from labcases.custody.firsts.queries import since_they_came
from labcases.custody.models import MediumKind, Thing
from labcases.imports.kinds import Judged, Said
from labcases.lab.models import Place, Profile
from labcases.media.inside import codes_in_words
from labcases.stock.imports import fields
from labcases.stock.models import Destination, Donor, DonorPart, Family, FamilyAlias
from labcases.stock.rules import PartKind

SHORTEST = 4  # a serial of fewer characters says too little
SYNONYMS = {
    '3.5"': "disk35", "3.5": "disk35", "3.5 disk": "disk35", '2.5"': "disk25", "2.5": "disk25", "2.5 disk": "disk25",
    '1.8"': "disk18", "1.8": "disk18", "hdd": "disk35", "disk": "disk35", "m.2": "nvme", "usb stick": "stick",
    "sd card": "card",
}  # fmt: skip
KIND_WORDS = (
    {kind.label: kind.value for kind in MediumKind} | {kind.value: kind.value for kind in MediumKind} | SYNONYMS
)


@dataclass
class Known:
    """What the lab knows that the rows of one lot speak of."""

    model: Any
    currency: str
    by_code: dict[str, Any] = field(default_factory=dict)
    by_serial: dict[str, list[Any]] = field(default_factory=dict)
    elsewhere: dict[str, Thing] = field(default_factory=dict)
    families: dict[str, Family] = field(default_factory=dict)
    aliases: dict[str, list[FamilyAlias]] = field(default_factory=dict)
    places: dict[str, Place] = field(default_factory=dict)


def known_to(model: Any, rows: Sequence[Said]) -> Known:
    """Gather it: seven queries, whatever the number of rows."""
    known = Known(model, Profile.current().currency)
    folded = {codes.fold(row.values["code"]) for row in rows if "code" in row.values}
    serials = {key for row in rows if len(key := folded_serial(row.values.get("serial", ""))) >= SHORTEST}
    here = model.objects.select_related("thing", "family").filter(
        Q(thing__code__in=folded) | Q(thing__serial_folded__in=serials)
    )
    for row in here:
        known.by_code[row.thing.code] = row
        known.by_serial.setdefault(row.thing.serial_folded, []).append(row)
    others = Thing.objects.filter(serial_folded__in=serials).exclude(pk__in=[row.thing_id for row in here])
    known.elsewhere = {thing.serial_folded: thing for thing in others.exclude(kind=Thing.Kind.PART)}
    known.families = {family.name.casefold(): family for family in Family.objects.all()}
    for alias in FamilyAlias.objects.select_related("family"):
        known.aliases.setdefault(alias.model_start, []).append(alias)
    for place in Place.objects.filter(in_use=True):
        known.places |= {place.name.casefold(): place, place.code.casefold(): place, _printed(place): place}
    return known


def _printed(place: Place) -> str:
    try:
        return codes.printed(place.code).casefold()
    except codes.MistypedCode:
        return place.code.casefold()


def judge_donors(batch: int | None, rows: Sequence[Said]) -> list[Judged]:
    known = known_to(Donor, rows)
    return [_judged(known, row, fields.OF_DONOR) for row in rows]


def judge_media(batch: int | None, rows: Sequence[Said]) -> list[Judged]:
    known = known_to(Destination, rows)
    return [_judged(known, row, (*fields.SHARED, "use")) for row in rows]


class NotSo(ValueError):
    """What a row says cannot be; the text is a sentence."""


def _judged(known: Known, row: Said, names: Iterable[str]) -> Judged:
    try:
        values = _resolved(known, dict(row.values))
        target = _target(known, values)
        key = _key(values)
        if target is None:
            _must_be_whole(known, values)
            return Judged(row.number, Fate.NEW, key=key, ready=values)
        return _against(row.number, target, values, names, key)
    except NotSo as wrong:
        return Judged(row.number, Fate.REFUSED, str(wrong))


def _key(values: dict[str, Any]) -> str:
    serial = folded_serial(values.get("serial", ""))
    if len(serial) >= SHORTEST:
        return f"serial {serial}"
    return f"code {codes.fold(values['code'])}" if "code" in values else ""


def _resolved(known: Known, values: dict[str, Any]) -> dict[str, Any]:
    """Names and words in place of what they stand for. Raises NotSo."""
    if said := fields.count_sectors(values):
        raise NotSo(said)
    if "family" in values:
        name = values["family"]
        values["family"] = known.families.get(name.casefold())
        if values["family"] is None:
            raise NotSo(f"Family: {shown(name)} is none of the lab's families. Add it first, or leave the cell empty.")
    if "shelf" in values:
        place = known.places.get(values["shelf"].casefold())
        if place is None:
            raise NotSo(f"Shelf: {shown(values['shelf'])} is no place of the lab that is in use.")
        values["shelf"] = place
    if "cost" in values:
        values["cost"] = _cost(values["cost"], known.currency)
    return values


def _cost(text: str, currency: str) -> int:
    try:
        amount = money.parse_amount(text, currency)
    except money.NotAnAmount as wrong:
        raise NotSo(f"Cost: {wrong}") from None
    if amount < 0:
        raise NotSo("Cost: a cost is not less than nothing.")
    return amount


def _target(known: Known, values: dict[str, Any]) -> Any:
    """The row of the lab that is meant: by its code, else by its serial; None when it is new. Raises NotSo."""
    if "code" in values:
        try:
            read = codes.parse(values["code"])
        except codes.MistypedCode as mistake:
            raise NotSo(f"Code: {mistake}") from None
        if read.folded not in known.by_code:
            raise NotSo(f"Code: there is no {read.printed} of this kind. Leave the cell empty for what is new.")
        return known.by_code[read.folded]
    serial = folded_serial(values.get("serial", ""))
    if len(serial) < SHORTEST:
        return None
    if len(found := known.by_serial.get(serial, [])) > 1:
        raise NotSo(
            f"Serial: {shown(values['serial'])} is of {found[0]} and of {found[1]}. Write which in a column Code."
        )
    if found:
        return found[0]
    if thing := known.elsewhere.get(serial):
        raise NotSo(f"Serial: {shown(values['serial'])} is that of {thing}, {thing.get_kind_display()}.")
    return None


def _must_be_whole(known: Known, values: dict[str, Any]) -> None:
    """What something new cannot come without. Raises NotSo."""
    if "kind" not in values:
        raise NotSo("Kind: say what kind of medium it is.")
    if known.model is Donor and not values.get("parts"):
        raise NotSo("Parts it gives: name at least one; stock counts parts.")
    if known.model is Donor and (said := fields.heads_alive(values)):
        raise NotSo(said)
    if known.model is Destination:
        _must_be_clean(values)
    if "family" not in values and "model" in values:
        values["family"] = _by_model(known, values.get("maker", ""), values["model"])


def _must_be_clean(values: dict[str, Any]) -> None:
    """A medium has a size, and comes into stock clean. Raises NotSo."""
    if not values.get("sectors"):
        raise NotSo("Sectors: say how many it has, or the printed GB.")
    if values.get("state", Destination.State.SEALED) not in Destination.CLEAN:
        raise NotSo("State: a medium comes into stock new and sealed, or wiped and verified.")


def _by_model(known: Known, maker: str, model: str) -> Family | None:
    """As ``FamilyAlias.family_of``: the longest beginning counts."""
    number = folded_serial(model)
    for length in range(len(number), 2, -1):
        for alias in known.aliases.get(number[:length], ()):
            if not alias.maker or alias.maker.casefold() == maker.casefold():
                return alias.family
    return None


def _against(number: int, target: Any, values: dict[str, Any], names: Iterable[str], key: str) -> Judged:
    """Compare what is said with what stands there: only what the row says counts."""
    pairs = [(name, getattr(target, name), values[name]) for name in names if name in values]
    differ = [(name, was, now) for name, was, now in pairs if was != now]
    if any(name == "use" for name, _, _ in differ):
        raise NotSo(f"Use: {target} is a {target.get_use_display()}; what a medium is for is not changed by a table.")
    about = {"number": number, "key": key, "target": target.pk, "seen": target.thing.last_event}
    if not differ:
        return Judged(fate=Fate.SAME, because=f"{target} says the same.", **about)
    words = "; ".join(
        f"{name.replace('_', ' ')} {_in_words(target, name, was)} → {_in_words(target, name, now)}"
        for name, was, now in differ
    )
    changes = {name: now.pk if isinstance(now, Family) else fields.plain(now) for name, _, now in differ}
    return Judged(fate=Fate.CHANGES, because=f"{target}: {words}", changes=changes, **about)


def _in_words(target: Any, name: str, value: Any) -> str:
    if name == "cost" and value is not None:
        return money.Money(value, target.currency).plain()
    if name == "kind":
        return str(MediumKind(value).label)
    return fields.in_words(value)


# --- afterwards -----------------------------------------------------------------------------------------------------


def used(batch: int) -> list[str]:
    """What of a batch was used: anything that the ledger speaks of, any part that is not simply free."""
    things = Thing.objects.filter(batch=batch)
    said = [f"{thing} ({thing.words})." for thing in since_they_came(things)[:10]]
    said += [f"{thing} was photographed." for thing in things.filter(photos__isnull=False).distinct()[:10]]
    parts = DonorPart.objects.filter(thing__batch=batch)
    return said + [f"{part} is {part.get_state_display()}." for part in parts.exclude(state=DonorPart.State.FREE)[:10]]


def last_events_of(model: Any) -> Any:
    """A function that gives code and last event of rows of this model."""

    def last_events(targets: Sequence[int]) -> dict[int, tuple[str, int]]:
        rows = model.objects.filter(pk__in=targets).values_list("pk", "thing__code", "thing__last_event")
        return {pk: (codes.printed(code), event) for pk, code, event in rows}

    return last_events


def things(batch: int) -> Any:
    """What wants a label: donors and media; parts are labelled when they are taken out."""
    return Thing.objects.filter(batch=batch).exclude(kind=Thing.Kind.PART).order_by("pk")


# --- out again ------------------------------------------------------------------------------------------------------


def donors_out() -> Iterator[list[Any]]:
    """Every donor as a row that can come in again under the same headers."""
    rows = Donor.objects.select_related("thing__place", "family").prefetch_related("parts").order_by("pk")
    for donor in rows.iterator(chunk_size=1_000):
        alive = next((part.heads_alive for part in donor.parts.all() if part.part == PartKind.HEAD_STACK), "")
        said = {"parts": "; ".join(part.part for part in donor.parts.all()), "heads_alive": alive}
        yield [_out(donor, said, one.key) for one in DONOR_COLUMNS]


def media_out() -> Iterator[list[Any]]:
    """Every destination and delivery medium, likewise."""
    rows = Destination.objects.select_related("thing__place", "family").order_by("pk")
    for medium in rows.iterator(chunk_size=1_000):
        said = {"use": medium.get_use_display(), "state": medium.get_state_display()}
        yield [_out(medium, said, one.key) for one in MEDIA_COLUMNS]


def parts_out() -> Iterator[list[Any]]:
    """Every part with its donor and what became of it."""
    for part in DonorPart.objects.with_context().order_by("pk").iterator(chunk_size=1_000):
        donor = part.donor
        about = [donor.family and str(donor.family), donor.maker, donor.model, donor.serial, donor.firmware]
        yield [
            str(part),
            str(donor),
            part.part,
            part.standing,
            part.tested,
            *about,
            str(part.thing.whereabouts),
        ]


PART_HEAD = ["Code", "Donor", "Part", "State", "Tested", "Family", "Maker", "Model", "Serial", "Firmware", "Where"]
DONOR_COLUMNS = [one for one in fields.donor_fields(KIND_WORDS) if one.key != "gigabytes"]
MEDIA_COLUMNS = [one for one in fields.media_fields(KIND_WORDS) if one.key != "gigabytes"]


def _out(row: Any, said: dict[str, Any], key: str) -> Any:
    """What stands in one column."""
    if key in said:
        return said[key]
    if key == "code":
        return str(row)
    if key == "kind":
        return row.get_kind_display()
    if key == "shelf":
        return row.thing.place.name if row.thing.place else ""
    if key == "cost":
        return "" if row.cost is None else money.Money(row.cost, row.currency).plain()
    if key == "source":
        return row.get_source_display()
    if key == "codes":
        return codes_in_words(row.codes)
    value = getattr(row, key)
    return str(value) if isinstance(value, Family) else value
