"""Opening a case: its code, its items, what came along, and where they lie."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.utils import timezone

from labcases.cases.actions.refusals import NothingToTakeIn
from labcases.cases.families import family_of
from labcases.cases.intake import NewItem
from labcases.cases.models import Accessory, Case, Item, StageStamp
from labcases.cases.pads.actions import claim, must_be_free
from labcases.cases.pads.models import ReservedCode
from labcases.cases.stages import Stage
from labcases.core import codes
from labcases.custody.actions import mint, new_thing, record
from labcases.custody.models import Thing, Whereabouts
from labcases.lab.models import Actor, Entry, Place, Profile
from labcases.people.models import Party


def open_case(owner: Party, items: Sequence[NewItem], by: Actor, happened: datetime, **about: Any) -> Case:
    """The case and its docket; ``about`` are fields of the case. Raises NothingToTakeIn without an item."""
    if not items:
        raise NothingToTakeIn("Say what comes in: at least one item with its kind.", mend="Add an item.")
    reserved = about.pop("reserved", None)
    body = _body_for(happened, reserved)
    thing = new_thing(body, kind=Thing.Kind.DOCKET, words=f"Docket for {len(items)} item{'s' * (len(items) > 1)}")
    owner, bearer, payer = now_called(owner, about.pop("bearer", None) or owner, about.pop("payer", None) or owner)
    currency = Profile.current().currency
    case: Case = Case.objects.create(
        thing=thing, owner=owner, bearer=bearer, payer=payer, currency=currency, **about, **Entry.stamp(by, happened)
    )
    if reserved:
        claim(reserved, case)
    return case


def now_called(*parties: Party) -> list[Party]:
    """Who these customers are now: a record may have gone into another while the form was open."""
    gone = Party.objects.filter(pk__in={party.pk for party in parties}).exclude(merged_into=None)
    became = {party.pk: party.stands_as for party in gone.select_related("merged_into")}
    return [became.get(party.pk, party) for party in parties]


def _body_for(happened: datetime, reserved: ReservedCode | None) -> str:
    """The body of the code on the sheet, or of the next of the year."""
    if reserved:
        must_be_free(reserved, happened)
        return str(reserved.code[:-1])
    year = timezone.localtime(happened).year
    return codes.case_body(year, mint(f"{year % 100:02d}"))


def add_item(case: Case, new: NewItem, number: int, stage: Stage, by: Actor, happened: datetime) -> Item:
    """One medium of the case, with its thing and its first stamp; the calling verb records the event."""
    fields = {**new.__dict__, "marks": list(new.marks), "behaviours": list(new.behaviours)}
    item = Item(
        case=case,
        number=number,
        stage=stage,
        family=family_of(new.maker, new.model),
        **fields,
        **Entry.stamp(by, happened),
    )
    item.thing = new_thing(
        codes.item_body(case.code[:-1], "P", number),
        kind=Thing.Kind.PATIENT,
        words=item.medium_words,
        serial=item.serial,
        at=case.bearer,
    )
    item.save()
    StageStamp.objects.create(item=item, stage=stage, **Entry.stamp(by, happened))
    return item


def add_accessory(case: Case, words: str, count: int, by: Actor, happened: datetime, to: Whereabouts) -> Accessory:
    """What came along, received with an event of its own."""
    body = codes.item_body(case.code[:-1], "A", case.accessories.count() + 1)
    thing = new_thing(body, kind=Thing.Kind.ACCESSORY, words=words, at=case.bearer)
    made = Accessory.objects.create(case=case, thing=thing, words=words, count=count, **Entry.stamp(by, happened))
    record("received", thing=thing, by=by, happened=happened, to=to, case=case.code)
    return made


def where(at: Place | None, by: Actor) -> Whereabouts:
    """The place that was named, else the counter, else the hands of who takes it."""
    place = at or Place.objects.filter(kind=Place.Kind.COUNTER, in_use=True).order_by("pk").first()
    return Whereabouts(place=place) if place else Whereabouts(staff=by.staff)


def move_docket(case: Case, to: Whereabouts) -> None:
    """The docket lies where its items came in; it has no event of its own for that."""
    Thing.objects.filter(pk=case.thing_id).update(place=to.place, staff=to.staff)
    case.thing.place, case.thing.staff = to.place, to.staff
