"""Letting go: nothing leaves unpaid, unsigned, uncounted, disputed or held."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from labcases.cases.actions import dispute, end_item, hold_by_law
from labcases.cases.models import Case
from labcases.cases.stages import EXITS, Stage
from labcases.core.refused import NotAllowed
from labcases.custody.models import Event, EventText, KeptHead, Thing
from labcases.custody.noting.actions import confirm_delivery
from labcases.handover.actions import (
    NotAllCounted,
    NotHere,
    NotProven,
    NotReleased,
    carriers,
    due_back,
    hand_over,
)
from labcases.handover.models import Handover
from labcases.lab.roles import Role
from labcases.stock.models import Destination


@pytest.fixture
def go(make, noon):
    """Hand everything of a case over in the plainest way; what is said otherwise replaces it."""

    def run(case: Case, **about: Any) -> Handover:
        about.setdefault("fates", {thing.code: "out" for thing in due_back(case)})
        plain = {"collector_name": "Orrin Vale", "proof": "known", "signed_how": "paper", "by": make.everyone()}
        return hand_over(case=case, happened=noon, **{**plain, **about})

    return run


@pytest.fixture
def case(make):
    """Ready and paid."""
    return make.paid(make.worked(make.case()))


def untouched(case: Case) -> bool:
    still = Thing.objects.in_the_lab().filter(item__case=case).count() == case.items.count()
    return still and not Handover.objects.exists() and not Event.objects.filter(kind="handed-over").exists()


def test_a_ready_item_goes_into_its_owners_hands_and_the_case_is_closed(go, case):
    made = go(case)
    item = case.items.get()
    assert item.stage == Stage.CLOSED
    assert item.thing.party == case.owner
    assert Case.objects.get(pk=case.pk).closed
    assert made.number == 1


def test_the_ledgers_head_is_kept_at_each_handover(go, case):
    go(case)
    kept = KeptHead.objects.get()
    assert (kept.size, kept.because) == (Event.objects.count(), "handover")
    assert kept.as_signed().holds()


def test_nothing_leaves_unpaid(go, make):
    case = make.worked(make.case())
    with pytest.raises(NotReleased) as refused:
        go(case)
    assert "There is money to settle. Take the payment" in refused.value.why[0]
    assert untouched(case)


def test_nothing_leaves_unsigned(go, case):
    with pytest.raises(NotProven) as refused:
        go(case, signed_how="")
    assert refused.value.why == ("Nothing leaves unsigned: draw the signature or tick that the paper is signed.",)
    assert untouched(case)


def test_nothing_leaves_uncounted(go, make):
    case = make.paid(make.worked(make.case(accessories=[("USB cable", 1)])))
    patient, cable = due_back(case)
    with pytest.raises(NotAllCounted, match=f"Not counted yet: {cable}"):
        go(case, fates={patient.code: "out"})
    assert untouched(case)


@pytest.mark.parametrize("stop", [dispute, hold_by_law])
def test_nothing_leaves_disputed_or_held(go, make, case, noon, stop):
    stop(case=case, by=make.everyone(), happened=noon, because="A brother says that it is his.")
    with pytest.raises(NotReleased) as refused:
        go(case)
    assert "Ownership is disputed or the law holds it. Settle the dispute" in refused.value.why[0]
    assert untouched(case)


def test_nothing_leaves_while_it_is_in_work(go, make):
    case = make.case()
    with pytest.raises(NotReleased) as refused:
        go(case)
    assert refused.value.why == (f"{case.items.get()} is “received”: its work is not at an end.",)


def test_a_thing_of_another_case_is_not_handed_over_with_this_one(go, make, case):
    other = make.item()
    with pytest.raises(NotHere, match=other.thing.code):
        go(case, fates={thing.code: "out" for thing in [*due_back(case), other.thing]})


@pytest.mark.parametrize(
    ("about", "sentence"),
    [
        ({"collector_name": ""}, "Say who collects it."),
        ({"collector": "other"}, "Somebody else collects with the owner's word: say how it was given."),
        ({"manner": "posted"}, "A parcel goes tracked: note its number."),
    ],
)
def test_who_takes_it_is_known(go, case, about, sentence):
    with pytest.raises(NotProven) as refused:
        go(case, **about)
    assert sentence in refused.value.why
    assert untouched(case)


def test_a_parcel_goes_tracked_and_needs_no_signature_at_the_counter(go, case):
    parcel = {"manner": "posted", "carrier": "Grey Goose Post", "tracking": "TR-0001"}
    made = go(case, **parcel, proof="tracked", signed_how="", seals=["S-1", "S-2"])
    event = Event.objects.get(kind="shipped")
    words = dict(EventText.objects.filter(sequence=event.sequence).values_list("field", "text"))
    assert (made.signed_how, words["carrier"], words["tracking"]) == ("", "Grey Goose Post", "TR-0001")
    assert b'"seals":["S-1","S-2"]' in bytes(event.body)
    assert not Event.objects.filter(kind="handed-over").exists()


def test_a_parcel_that_arrived_is_confirmed_in_the_line_of_what_was_in_it(go, case, make, noon):
    go(case, manner="posted", carrier="Grey Goose Post", tracking="TR-0001", proof="tracked", signed_how="")
    thing = case.items.get().thing
    confirm_delivery(thing=thing, receiver="Ines Garrow", by=make.everyone(), happened=noon + timedelta(days=2))
    thing.refresh_from_db()
    assert Event.objects.get(kind="delivered").sequence == thing.last_event
    assert (thing.breaks_open, thing.party) == (0, case.owner)


def test_somebody_else_takes_it_on_the_owners_word_and_the_ledger_names_the_word(go, case):
    go(case, collector="other", collector_name="Ines Garrow", owners_word="code sent to the owner's phone")
    assert case.items.get().thing.party == case.owner
    assert b'"authority"' in bytes(Event.objects.get(kind="handed-over").body)


def test_two_of_three_screws_are_not_three(go, make):
    case = make.paid(make.worked(make.case(accessories=[("screws", 3)])))
    screws = due_back(case)[1]
    with pytest.raises(NotAllCounted) as refused:
        go(case, counts={screws.code: 2})
    assert refused.value.why == (f"{screws}, screws: 3 came in, 2 counted back.",)
    made = go(case, counts={screws.code: 2}, notes={screws.code: "one was worn and thrown away"})
    assert made.lines.get(thing=screws).note


# --- what stays, and what goes later --------------------------------------------------------------------------------


def test_what_stays_by_signature_stays_in_the_lab_and_is_not_due_again(go, case):
    go(case, fates={due_back(case)[0].code: "stays"})
    thing = case.items.get().thing
    assert thing.staff_id or thing.place_id
    assert due_back(case) == []
    assert Event.objects.filter(kind="left-with-us", thing_code=thing.code).exists()


def test_what_stays_is_signed_for_even_by_post(go, make, case):
    about = {"manner": "posted", "tracking": "TR-2", "signed_how": ""}
    with pytest.raises(NotProven, match="stays by signature"):
        go(case, fates={due_back(case)[0].code: "stays"}, **about)


def test_left_for_disposal_and_going_out_exclude_each_other(go, case):
    with pytest.raises(NotProven, match="one of the two is wrong"):
        go(case, manner="disposed")


def test_a_part_goes_now_and_the_rest_later(go, make):
    case = make.case(items=2, accessories=[("caddy", 1)])
    first, second = case.items.all()
    make.paid(make.worked(case, first))
    codes = {thing.kind: thing.code for thing in due_back(case) if thing.kind == "accessory"}
    go(case, fates={first.thing.code: "out", second.thing.code: "later", codes["accessory"]: "later"})
    assert [item.stage for item in case.items.all()] == [Stage.HANDED_OVER, Stage.RECEIVED]
    assert not Case.objects.get(pk=case.pk).closed
    assert [thing.code for thing in due_back(case)] == [second.thing.code, codes["accessory"]]


def test_the_last_handover_leaves_nothing_for_later(go, make):
    case = make.paid(make.worked(make.case(accessories=[("caddy", 1)])))
    patient, caddy = due_back(case)
    with pytest.raises(NotAllCounted, match=f"Nothing is left for later any more: {caddy}"):
        go(case, fates={patient.code: "out", caddy.code: "later"})


def test_a_handover_of_nothing_is_none(go, make):
    case = make.case()
    with pytest.raises(NotAllCounted, match="Nothing is handed over yet"):
        go(case, fates={thing.code: "later" for thing in due_back(case)})


def test_handovers_of_a_case_are_numbered(go, make, noon):
    case = make.case(items=2)
    first, second = case.items.all()
    make.paid(make.worked(case, first))
    go(case, fates={first.thing.code: "out", second.thing.code: "later"})
    end_item(item=second, to=Stage.WITHDRAWN, by=make.everyone(), happened=noon, because="They want it back.")
    assert go(case).number == 2
    assert Case.objects.get(pk=case.pk).closed


# --- exits ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("exit_", [Stage.UNRECOVERABLE, Stage.WITHDRAWN, Stage.ABANDONED])
def test_an_exit_ends_in_a_handover(go, make, noon, exit_):
    assert exit_ in EXITS
    case = make.case()
    end_item(item=case.items.get(), to=exit_, by=make.everyone(), happened=noon, because="The platters are bare.")
    go(case)
    assert case.items.get().stage == Stage.CLOSED


def test_a_declined_quote_ends_in_a_handover(go, make, noon):
    from labcases.bench.actions import examine
    from labcases.office.actions import decline_quote, send_quote

    case, by = make.case(), make.everyone()
    examine(item=case.items.get(), by=by, happened=noon, faults=["heads"], found="Clicks.", prospects="poor")
    quote = send_quote(case=case, lines=[("Heads", 90_000)], by=by, happened=noon)
    decline_quote(quote=quote, who="Orrin Vale", how="by phone", by=by, happened=noon)
    go(case)
    assert case.items.get().stage == Stage.CLOSED


# --- the media that carry the files ---------------------------------------------------------------------------------


def test_the_delivery_medium_goes_out_with_the_files_and_is_gone(go, make, case, noon):
    case = make.case()
    medium = make.delivery(case.items.get())
    make.paid(make.worked(case))
    go(case, deliveries=[medium.thing])
    medium.refresh_from_db()
    assert (medium.state, medium.thing.party) == (Destination.State.GONE, case.owner)
    assert not medium.assignments.filter(ended=None).exists()
    assert Event.objects.filter(kind="handed-over", case_code=case.code).count() == 2


def test_a_delivery_medium_is_not_forgotten_on_the_shelf(go, make):
    case = make.case()
    medium = make.delivery(case.items.get())
    make.paid(make.worked(case))
    with pytest.raises(NotAllCounted, match=f"not among what goes out: {medium}"):
        go(case)
    assert untouched(case)


def test_a_medium_of_another_case_carries_nothing_of_this_one(go, make, case):
    medium = make.delivery(make.item())
    assert carriers(case) == []
    with pytest.raises(NotHere, match="Not set aside for this case"):
        go(case, deliveries=[medium.thing])


# --- who may --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("role", [Role.ENGINEER, Role.AUDITOR])
def test_engineers_and_auditors_release_nothing(go, make, case, role):
    with pytest.raises(NotAllowed):
        go(case, by=make.actor(role))
    assert untouched(case)


@pytest.mark.parametrize("role", [Role.COUNTER, Role.MANAGER])
def test_the_counter_and_a_manager_release(go, make, case, role):
    assert go(case, by=make.actor(role)).role == role
