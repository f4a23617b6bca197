"""Donors over time: stripped part by part, tested, and scrapped in the end."""

from __future__ import annotations

from datetime import datetime

from labcases.custody.actions import record, recorded
from labcases.custody.models import Whereabouts
from labcases.lab.models import Actor, Place
from labcases.lab.roles import Right
from labcases.stock.actions.refusals import NotNow
from labcases.stock.actions.standing import alive_heads, taken_by
from labcases.stock.models import Donor, DonorPart

State, Test = DonorPart.State, DonorPart.Test


@recorded
def strip_part(
    *, part: DonorPart, by: Actor, happened: datetime, at: Place | None = None, because: str = ""
) -> DonorPart:
    """Take a part off its donor, to a place or into the hands of who does it. Raises NotNow when it is off already."""
    by.must(Right.KEEP_STOCK)
    if not DonorPart.objects.filter(pk=part.pk, stripped=None, donor__scrapped=None).update(stripped=happened):
        part = DonorPart.objects.with_context().get(pk=part.pk)
        if part.stripped:
            raise NotNow(f"{part} was taken off its donor already.")
        raise NotNow(f"{part.donor} was scrapped, and {part} with it.")
    part.refresh_from_db()
    to = Whereabouts(place=at) if at else Whereabouts(staff=by.staff)
    words = f"{part.donor}. {because}".strip()
    record("part-stripped", thing=part.thing, by=by, happened=happened, to=to, because=words)
    return part


@recorded
def note_test(
    *,
    part: DonorPart,
    tested: str,
    by: Actor,
    happened: datetime,
    result: str = "",
    heads_alive: str = "",
    spoiled: bool = False,
) -> DonorPart:
    """How a part was tested, by whom, and what came out; which heads of a stack are alive.

    Raises NotNow when it is spoiled but serves a patient, or for heads that it has not.
    """
    by.must(Right.KEEP_STOCK)
    said = {"tested": tested, "test_result": Test(result) if result else "", "tested_at": happened}
    about = {**said, "tested_by": by.staff, **alive_heads(part, heads_alive)}
    rows = DonorPart.objects.filter(pk=part.pk)
    if not spoiled:
        rows.update(**about)
    elif not rows.free().update(**about, state=State.SPOILED, reserved_for=None, reserved_until=None):
        part.refresh_from_db()
        words = taken_by(part) or f"{part} is {part.get_state_display()}."
        raise NotNow(words, mend="A part that serves a patient is judged after use.")
    part.refresh_from_db()
    alive = f"; alive: {part.heads_alive}" if "heads_alive" in about else ""
    ending = "; spoiled" if spoiled else ""
    record("part-tested", thing=part.thing, by=by, happened=happened, because=f"{tested}{alive}{ending}")
    return part


@recorded
def correct_part(*, part: DonorPart, cost: int | None, note: str, by: Actor, happened: datetime) -> DonorPart:
    """Put right what one part cost (its share, in minor units) and what is noted of it."""
    by.must(Right.KEEP_STOCK)
    was = f"cost {'of the donor' if part.cost is None else part.cost} → {'of the donor' if cost is None else cost}"
    DonorPart.objects.filter(pk=part.pk).update(cost=cost, note=note)
    part.refresh_from_db()
    record("stock-changed", thing=part.thing, by=by, happened=happened, because=f"{was}; {note}".rstrip("; "))
    return part


@recorded
def scrap_donor(*, donor: Donor, by: Actor, happened: datetime, because: str) -> Donor:
    """Throw a donor away, with every part that is still on it and on the shelf; what was taken off it stays.

    Raises NotNow, and changes nothing, when a part that is still on it serves a patient or is kept for one.
    """
    by.must(Right.KEEP_STOCK)
    on_it = DonorPart.objects.filter(donor=donor, stripped=None).select_related("thing", "reserved_for__thing")
    for part in on_it:
        _must_serve_nobody(part)
    if not Donor.objects.filter(pk=donor.pk, scrapped=None).update(scrapped=happened):
        raise NotNow(f"{donor} was scrapped already.")
    gone = [part for part in on_it if part.on_the_shelf]
    on_it.free().update(state=State.SPOILED, reserved_for=None, reserved_until=None)
    for thing in (donor.thing, *(part.thing for part in gone)):
        record("donor-scrapped", thing=thing, by=by, happened=happened, because=because)
    donor.refresh_from_db()
    return donor


def _must_serve_nobody(part: DonorPart) -> None:
    if part.state == State.ASSIGNED:
        raise NotNow(taken_by(part), mend="Take it off its donor first, or release it, or judge it after use.")
    if held := part.reserved_now:
        raise NotNow(f"{part} is reserved for {held}.", mend="Take it off its donor first, or end the reservation.")
