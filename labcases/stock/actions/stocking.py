"""Into stock: donors with their parts, destinations and delivery media, families; and keeping what is known of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any, TypeVar

from labcases.cases.models import Case, Item
from labcases.core import codes
from labcases.core.text import folded_serial
from labcases.custody.actions import mint, new_thing, record, record_many, recorded
from labcases.custody.models import Thing, Whereabouts
from labcases.lab.models import Actor, Entry, Place, Profile
from labcases.lab.roles import Right
from labcases.media.inside import codes_in_words
from labcases.stock.actions.buying import offer_to_needs
from labcases.stock.actions.refusals import Changed, NotNow, SerialTwice
from labcases.stock.models import Destination, Donor, DonorPart, Family, FamilyAlias, FamilySize
from labcases.stock.rules import PartKind
from labcases.stock.sizes import Size

M = TypeVar("M", Donor, Destination)
MOST_AT_ONCE = 200
OWNERS_WORD = frozenset({"content", "consent", "consent_by", "consent_paper"})


@recorded
def stock_donor(
    *, by: Actor, happened: datetime, at: Place | None = None, parts: Sequence[str] = (), **about: Any
) -> Donor:
    """Take a donor into stock, with the parts it can give. ``about`` are the fields of Donor."""
    by.must(Right.KEEP_STOCK)
    donor = Donor(**_medium(about), **Entry.stamp(by, happened))
    body = codes.stock_body("D", mint("D"))
    donor.thing = new_thing(body, kind=Thing.Kind.DONOR, words=donor.medium_words, serial=donor.serial)
    donor.save()
    record("stocked", thing=donor.thing, by=by, happened=happened, to=_where(at, by), because=donor.supplier)
    made = [_list(donor, part, by=by, happened=happened) for part in dict.fromkeys(parts)]
    offer_to_needs(parts=made, by=by, happened=happened)
    return donor


@recorded
def list_part(
    *,
    donor: Donor,
    part: str,
    by: Actor,
    happened: datetime,
    tested: str = "",
    note: str = "",
    cost: int | None = None,
) -> DonorPart:
    """Name a part that a donor can give. Stock counts parts. Raises NotNow for a donor that was scrapped."""
    by.must(Right.KEEP_STOCK)
    donor.refresh_from_db(fields=["scrapped"])
    if donor.scrapped:
        raise NotNow(f"{donor} was scrapped.", mend="List parts of what is still here.")
    made = _list(donor, part, by=by, happened=happened, tested=tested, note=note, cost=cost)
    offer_to_needs(parts=[made], by=by, happened=happened)
    return made


def _list(donor: Donor, part: str, *, by: Actor, happened: datetime, **about: Any) -> DonorPart:
    kind = PartKind(part)
    body = codes.item_body(donor.thing.code[:-1], "P", donor.parts.count() + 1)
    thing = new_thing(body, kind=Thing.Kind.PART, words=f"{kind} of {donor.medium_words}", at=donor.thing.whereabouts)
    if about.get("tested"):
        about |= {"tested_at": happened, "tested_by": by.staff}
    made: DonorPart = DonorPart.objects.create(
        donor=donor, thing=thing, part=kind, **about, **Entry.stamp(by, happened)
    )
    record("part-listed", thing=thing, by=by, happened=happened)
    return made


@recorded
def stock_destination(
    *, by: Actor, happened: datetime, at: Place | None = None, own_of: Case | None = None, **about: Any
) -> Destination:
    """Take a destination or a delivery medium into stock. ``about`` are the fields of Destination.

    ``own_of``: it is the customer's own, of that case; it then serves that case only, holds what it holds, and is
    never wiped; its owner's consent is a verb of its own (``note_consent``). Raises NotNow for any other medium that
    does not come clean.
    """
    by.must(Right.KEEP_STOCK)
    _must_leave_alone(about, OWNERS_WORD)
    if own_of:
        about |= {"state": Destination.State.HOLDS_DATA, "held_for": own_of, "owned_by": own_of.owner, "written": True}
    elif about.get("state", Destination.State.SEALED) not in Destination.CLEAN:
        raise NotNow("A medium comes into stock new and sealed, or wiped and verified.", mend="Wipe it first.")
    made = Destination(**_medium(about), **Entry.stamp(by, happened))
    series, kind = _SERIES[Destination.Use(made.use)]
    body = codes.stock_body(series, mint(series))
    made.thing = new_thing(body, kind=kind, words=made.medium_words, serial=made.serial)
    made.save()
    case = own_of.code if own_of else None
    record("stocked", thing=made.thing, by=by, happened=happened, to=_where(at, by), case=case)
    return made


_SERIES = {
    Destination.Use.CLONE: ("W", Thing.Kind.DESTINATION),
    Destination.Use.DELIVERY: ("M", Thing.Kind.DELIVERY),
}


@recorded
def stock_destinations(
    *, serials: Sequence[str], how_many: int, by: Actor, happened: datetime, **about: Any
) -> list[Destination]:
    """A series of equal media, all or none; each gets its serial from the list, as long as it lasts.

    Raises SerialTwice when a serial is listed twice, ValueError for a number that cannot be meant.
    """
    if not 1 <= how_many <= MOST_AT_ONCE or len(serials) > how_many:
        raise ValueError(f"{how_many} media with {len(serials)} serials cannot be meant.")
    if twice := first_twice(serials):
        raise SerialTwice(f"The serial {twice} is listed twice.", mend="Each medium has its own serial.")
    each = [*serials, *[""] * (how_many - len(serials))]
    return [stock_destination(by=by, happened=happened, serial=serial, **about.copy()) for serial in each]


def first_twice(serials: Iterable[str]) -> str:
    """The first serial that stands twice in a list, however it is typed; empty when there is none."""
    seen: set[str] = set()
    for serial in serials:
        key = folded_serial(serial)
        if key in seen:
            return serial
        seen.add(key)
    return ""


def _medium(about: dict[str, Any]) -> dict[str, Any]:
    """Fill in what stock always has: a currency, and the family its model number belongs to."""
    about.setdefault("currency", Profile.current().currency)
    if about.get("family") is None and about.get("model"):
        about["family"] = FamilyAlias.family_of(about.get("maker", ""), about["model"])
    return about


def _where(at: Place | None, by: Actor) -> Whereabouts:
    return Whereabouts(place=at) if at else Whereabouts(staff=by.staff)


# --- keeping what is known ------------------------------------------------------------------------------------------


@recorded
def change_donor(*, donor: Donor, seen: int, by: Actor, happened: datetime, **about: Any) -> Donor:
    """Correct what is known of a donor. ``seen`` is its last event when the page was opened.

    Its free parts are held against what is to be bought once more. Raises Changed when somebody else did something
    to it since.
    """
    by.must(Right.KEEP_STOCK)
    changed = _change(donor, about, seen=seen, by=by, happened=happened)
    offer_to_needs(parts=list(DonorPart.objects.free().with_context().filter(donor=changed)), by=by, happened=happened)
    return changed


@recorded
def change_destination(
    *, destination: Destination, seen: int, by: Actor, happened: datetime, **about: Any
) -> Destination:
    """Correct what is known of a medium; its state is changed by its own verbs only. Raises Changed."""
    by.must(Right.KEEP_STOCK)
    _must_leave_alone(about, OWNERS_WORD | {"state", "held_for", "owned_by", "thing", "written", "healthy"})
    return _change(destination, about, seen=seen, by=by, happened=happened)


def _must_leave_alone(about: dict[str, Any], others: frozenset[str]) -> None:
    """Some fields have verbs of their own."""
    if strange := others & about.keys():
        raise ValueError(f"{', '.join(sorted(strange))} is not corrected here, but by a verb of its own.")


def _change(medium: M, about: dict[str, Any], *, seen: int, by: Actor, happened: datetime) -> M:
    medium.refresh_from_db()
    thing = Thing.objects.with_whereabouts().get(pk=medium.thing_id)
    if thing.last_event != seen:
        mend = "Open the page again: your changes are compared with what stands there now."
        raise Changed(f"Something happened to {thing} after this page was opened.", mend=mend)
    if "family" in about and about["family"] is None:
        about["family"] = FamilyAlias.family_of(about.get("maker", medium.maker), about.get("model", medium.model))
    changes = {name: value for name, value in about.items() if getattr(medium, name) != value}
    said = "; ".join(
        f"{_said(name)} {_shown(getattr(medium, name))} → {_shown(value)}" for name, value in changes.items()
    )
    if not changes:
        return medium
    for name, value in changes.items():
        setattr(medium, name, value)
    medium.save(update_fields=list(changes))
    thing.words, thing.serial_folded = medium.medium_words[:300], folded_serial(medium.serial)[:100]
    thing.save(update_fields=["words", "serial_folded"])
    record("stock-changed", thing=thing, by=by, happened=happened, because=said)
    return medium


def _said(name: str) -> str:
    return name.replace("_", " ")


def _shown(value: Any) -> str:
    return codes_in_words(value) if value and isinstance(value, dict) else str(value or "not known")


@recorded
def keep_family(
    *,
    name: str,
    aliases: Iterable[tuple[str, str]],
    by: Actor,
    happened: datetime,
    family: Family | None = None,
    sizes: Iterable[Size] | None = None,
    **about: Any,
) -> Family:
    """Add a family, or keep one: its name, what is expected of it, and the model numbers it is sold under.

    ``aliases`` are (maker or "", beginning of a model number). What stands in stock or on the bench without a family
    and begins so belongs to it from now on. ``sizes`` are what is expected at each capacity; None leaves them alone.
    """
    by.must(Right.KEEP_STOCK)
    family = family or Family()
    for field, value in (about | {"name": name}).items():
        setattr(family, field, value)
    family.save()
    wanted = {(maker, folded_serial(start)) for maker, start in aliases}
    held = {(alias.maker, alias.model_start): alias for alias in family.aliases.all()}
    FamilyAlias.objects.filter(pk__in=[alias.pk for key, alias in held.items() if key not in wanted]).delete()
    FamilyAlias.objects.bulk_create(
        [FamilyAlias(family=family, maker=maker, model_start=start) for maker, start in sorted(wanted - held.keys())]
    )
    if sizes is not None:
        _keep_sizes(family, sizes)
    for maker, start in wanted:
        for model in (Donor, Destination, Item):
            _adopt(model, family, maker, start)
    record("stock-changed", thing=None, by=by, happened=happened, because=f"family {family.name}")
    return family


def _keep_sizes(family: Family, sizes: Iterable[Size]) -> None:
    family.sizes.all().delete()
    FamilySize.objects.bulk_create(
        [FamilySize(family=family, gigabytes=s.gigabytes, heads=s.heads, platters=s.platters) for s in sizes]
    )


def _adopt(model: Any, family: Family, maker: str, start: str) -> None:
    """Rows without a family whose model number begins so. The first letter narrows, folding decides."""
    homeless = model.objects.filter(family=None, model__istartswith=start[:1])
    if maker:
        homeless = homeless.filter(maker__iexact=maker)
    found = [pk for pk, number in homeless.values_list("pk", "model") if folded_serial(number).startswith(start)]
    model.objects.filter(pk__in=found, family=None).update(family=family)


@recorded
def labelled(*, things: Sequence[Thing], by: Actor, happened: datetime) -> None:
    """Put on record that labels were printed."""
    by.must(Right.MOVE)
    record_many("labelled", things=things, by=by, happened=happened)
