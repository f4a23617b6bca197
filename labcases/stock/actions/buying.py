"""What is to be bought: raised from a patient, ordered, arrived, wrong inside, returned, met, or no longer needed.

Each step is a conditional update from the states it may come from: of two who press, the second is told.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, datetime
from typing import Any

from labcases.cases.models import Item
from labcases.core.money import Money
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry, Profile
from labcases.lab.roles import Right
from labcases.stock.actions.refusals import NotNow
from labcases.stock.actions.standing import must_be_open
from labcases.stock.models import DonorPart, EarlierOrder, Need
from labcases.stock.queries.buying import needs_met_by, wanted_attributes
from labcases.stock.queries.narrowing import not_known_to_differ
from labcases.stock.queries.ruling import rule_books, rules_for
from labcases.stock.rules import PartKind

State = Need.State
MOST_OFFERED = 50  # of one table, held against one need


@recorded
def raise_need(*, patient: Item, part: str, by: Actor, happened: datetime, note: str = "") -> Need:
    """Put a part for a patient on the list to buy, with what it must be by the rules. Raises NotNow if it is there."""
    by.must(Right.ASSIGN)
    must_be_open(patient)
    kind = PartKind(part)
    if Need.objects.still_open().filter(item=patient, part=kind).exists():
        raise NotNow(f"A {kind} for {patient} is on the list to buy already.")
    made = Need.objects.create(
        item=patient,
        part=kind,
        attributes=wanted_attributes(patient, rules_for(kind, patient.family_id).rules),
        note=note,
        currency=Profile.current().currency,
        **Entry.stamp(by, happened),
    )
    _record("need-raised", made, by, happened, f"{kind}. {note}")
    return made


@recorded
def order_need(
    *,
    need: Need,
    supplier: str,
    price: int | None,
    promised: date | None,
    by: Actor,
    happened: datetime,
    non_refundable: bool = False,
    because: str = "",
) -> Need:
    """It is ordered: where, for how much (minor units of the lab's currency), promised for when.

    What it must be is kept as it is known of the patient now: that is what was ordered.
    """
    by.must(Right.KEEP_STOCK)
    patient = need.item
    wanted = wanted_attributes(patient, rules_for(need.part, patient.family_id).rules)
    about: dict[str, Any] = {"attributes": wanted}
    _keep_earlier(need, by, happened)
    about |= {
        "because": "",
        "supplier": supplier,
        "price": price,
        "promised": promised,
        "non_refundable": non_refundable,
    }
    _move(need, State.ORDERED, {State.TO_BUY, State.WRONG}, ordered=happened, arrived=None, **about)
    cost = f", {Money(price, need.currency).plain()} {need.currency}" if price is not None else ""
    day = f", promised for {promised:%Y-%m-%d}" if promised else ""
    _record("need-ordered", need, by, happened, f"{need.part} from {supplier}{cost}{day}. {because}")
    return need


def _keep_earlier(need: Need, by: Actor, happened: datetime) -> None:
    """What was ordered before and came wrong was paid: it stays beside the new order, until it goes back."""
    wrong = Need.objects.filter(pk=need.pk, state=State.WRONG, ordered__isnull=False).first()
    if wrong is not None:
        names = ("supplier", "price", "currency", "non_refundable", "ordered", "arrived", "because")
        about = {name: getattr(wrong, name) for name in names}
        EarlierOrder.objects.create(need=wrong, **about, **Entry.stamp(by, happened))


@recorded
def send_earlier_back(*, order: EarlierOrder, by: Actor, happened: datetime, because: str) -> EarlierOrder:
    """What came wrong before goes back; its price no longer counts for the case. Raises NotNow when it went."""
    by.must(Right.KEEP_STOCK)
    if not EarlierOrder.objects.filter(pk=order.pk, returned=None).update(returned=happened):
        raise NotNow(f"The {order} went back already.", mend="Reload the page and look again.")
    order.refresh_from_db()
    _record("need-returned", order.need, by, happened, f"{order}. {because}")
    return order


@recorded
def receive_need(*, need: Need, by: Actor, happened: datetime, because: str = "") -> Need:
    """The parcel came. What is in it is taken into stock, and judged there."""
    by.must(Right.KEEP_STOCK)
    _move(need, State.ARRIVED, {State.ORDERED}, arrived=happened)
    _record("need-arrived", need, by, happened, f"{need.part} from {need.supplier}. {because}")
    return need


@recorded
def wrong_inside(*, need: Need, by: Actor, happened: datetime, because: str) -> Need:
    """What came is not what its label said, or what was ordered. It is to be bought again, or sent back."""
    by.must(Right.KEEP_STOCK)
    _move(need, State.WRONG, {State.ARRIVED}, because=because, offered=None)
    _record("need-wrong", need, by, happened, because)
    return need


@recorded
def send_back(*, need: Need, by: Actor, happened: datetime, because: str) -> Need:
    """What came goes back to where it was bought; its price no longer counts for the case."""
    by.must(Right.KEEP_STOCK)
    _move(need, State.RETURNED, {State.ARRIVED, State.WRONG}, because=because, non_refundable=False)
    _record("need-returned", need, by, happened, because)
    return need


@recorded
def drop_need(*, need: Need, by: Actor, happened: datetime, because: str) -> Need:
    """It is no longer needed. What was ordered is cancelled by whoever ordered it."""
    by.must(Right.ASSIGN)
    _move(need, State.DROPPED, Need.OPEN, because=because)
    _record("need-dropped", need, by, happened, because)
    return need


def meet_need(*, part: DonorPart, patient: Item, by: Actor, happened: datetime) -> None:
    """A part was assigned: what was to be bought of its kind for this patient is met. Part of assigning."""
    need = Need.objects.still_open().filter(item=patient, part=part.part).select_related("item__case__thing").first()
    if need is not None:
        _move(need, State.MET, Need.OPEN, met_by=part)
        _record("need-met", need, by, happened, f"{part.part} by {part}")


def offer_to_needs(*, parts: Collection[DonorPart], by: Actor, happened: datetime) -> list[Any]:
    """New stock is held against what is to be bought the moment it is entered; the best for each need is offered.

    Gives what may meet a need, best first for each. Nothing is assigned: an engineer looks and presses.
    """
    met = needs_met_by(parts)
    best = {one.need.pk: one for one in reversed(met)}
    for one in best.values():
        Need.objects.still_open().filter(pk=one.need.pk).update(offered=one.part)
    return met


def offer_batch(batch: int) -> None:
    """The same for all that came in with one table, however large: the database narrows it for each open need."""
    needs = list(Need.objects.still_open().with_context().order_by("pk"))
    books = rule_books()
    for need in needs:
        new = DonorPart.objects.free().filter(thing__batch=batch, part=need.part)
        near = new.filter(not_known_to_differ(need.item, books.of(need.part, need.item.family_id).rules))
        met = [
            one for one in needs_met_by(list(near.select_related("donor", "thing")[:MOST_OFFERED])) if one.need == need
        ]
        if met:
            Need.objects.still_open().filter(pk=need.pk).update(offered=met[0].part)


def _move(need: Need, to: State, come_from: Collection[str], **fields: Any) -> None:
    """One update decides. Raises NotNow with the state it is in."""
    if not Need.objects.filter(pk=need.pk, state__in=come_from).update(state=to, **fields):
        need.refresh_from_db(fields=["state"])
        raise NotNow(f"{need} is {need.get_state_display()}.", mend="Reload the page and look again.")
    need.refresh_from_db()


def _record(kind: str, need: Need, by: Actor, happened: datetime, because: str) -> None:
    patient = need.item
    record(kind, thing=patient.thing, by=by, happened=happened, because=because.strip(), case=patient.case.code)
