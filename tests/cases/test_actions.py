"""The verbs of the counter after taking in: parcels, corrections, stops, enquiries, and the one door for stages."""

from __future__ import annotations

from datetime import timedelta

import pytest

from labcases.cases import actions
from labcases.cases.intake import Told, WantedLine
from labcases.cases.models import Enquiry, Item, StageStamp
from labcases.cases.stages import Stage
from labcases.cases.words import UNKNOWN_SENDER
from labcases.core.refused import NotAllowed
from labcases.custody.models import Event, EventText
from labcases.lab.models import Place
from labcases.lab.roles import Role
from labcases.people.models import Party


def events(case) -> list[str]:
    return list(Event.objects.filter(case_code=case.code).order_by("sequence").values_list("kind", flat=True))


def words(kind: str, field: str = "because") -> str:
    """What the newest event of a kind says."""
    last = Event.objects.filter(kind=kind).latest("sequence")
    return EventText.objects.get(sequence=last.sequence, field=field).text


# --- by post ---------------------------------------------------------------------------------------------------------


def test_what_is_expected_is_still_with_whoever_sends_it(make, noon):
    case = make.expected(items=2)
    assert [item.stage for item in case.items.all()] == [Stage.EXPECTED] * 2
    assert {item.thing.party for item in case.items.all()} == {case.bearer}
    assert events(case) == ["expected", "expected"]
    assert case.way == "post"


def test_a_parcel_that_came_lies_at_the_counter_as_it_was_found(make, noon):
    counter = make.place(kind=Place.Kind.COUNTER)
    case = make.expected()
    actions.arrive(case=case, by=make.everyone(), happened=noon, condition="closed: dented; opened: dry")
    item = case.items.get()
    assert (item.stage, item.thing.place) == (Stage.RECEIVED, counter)
    assert events(case) == ["expected", "parcel-arrived", "received"]
    assert words("parcel-arrived") == words("received") == "closed: dented; opened: dry"


def test_of_two_expected_items_the_one_that_came_is_received_and_the_other_waits(make, noon):
    case = make.expected(items=2)
    first, second = case.items.all()
    actions.arrive(case=case, items=[first], by=make.everyone(), happened=noon)
    assert list(case.items.values_list("stage", flat=True)) == [Stage.RECEIVED, Stage.EXPECTED]
    actions.arrive(case=case, by=make.everyone(), happened=noon)
    assert Item.objects.get(pk=second.pk).stage == Stage.RECEIVED


def test_damage_on_the_way_stands_on_the_item_and_in_the_ledger(make, noon):
    case = make.expected(items=2)
    hurt, whole = case.items.all()
    actions.arrive(case=case, damage={hurt.pk: "connector torn"}, by=make.everyone(), happened=noon)
    assert Item.objects.get(pk=hurt.pk).note == "Damaged on the way: connector torn"
    assert Item.objects.get(pk=whole.pk).note == ""
    damaged = Event.objects.get(kind="arrived-damaged")
    assert damaged.thing_code == hurt.thing.code


def test_what_nobody_announced_gets_the_next_number_and_is_received(make, noon):
    case = make.expected()
    actions.arrive(case=case, also=[make.new_item(kind="stick")], by=make.everyone(), happened=noon)
    assert list(case.items.values_list("number", "kind", "stage")) == [
        (1, "disk25", "received"),
        (2, "stick", "received"),
    ]
    assert events(case).count("received") == 2


def test_a_parcel_of_a_case_that_expects_nothing_is_refused(make, noon):
    case = make.case()
    with pytest.raises(actions.NothingToTakeIn, match="expected any more"):
        actions.arrive(case=case, by=make.everyone(), happened=noon)


def test_an_item_that_never_came_ends_without_a_handover_and_closes_its_case(make, noon):
    case = make.expected()
    actions.never_came(item=case.items.get(), because="they kept it", by=make.everyone(), happened=noon)
    case.refresh_from_db()
    assert case.items.get().stage == Stage.NEVER_CAME
    assert case.closed == noon
    assert words("ended") == "never came: they kept it"


def test_a_case_stays_open_while_another_item_is_still_to_come(make, noon):
    case = make.expected(items=2)
    first = case.items.first()
    actions.never_came(item=first, how="sent elsewhere", because="by mistake", by=make.everyone(), happened=noon)
    case.refresh_from_db()
    assert case.closed is None
    assert words("ended") == "sent elsewhere: by mistake"


def test_what_is_in_the_lab_cannot_be_said_never_to_have_come(make, noon):
    item = make.item()
    with pytest.raises(actions.NotYet):
        actions.never_came(item=item, because="lost", by=make.everyone(), happened=noon)
    assert not Event.objects.filter(kind="ended").exists()


def test_a_parcel_without_a_sender_is_a_case_of_its_own(make, noon):
    case = actions.arrive_unknown(
        written="Postmark Underford", items=[make.new_item()], condition="closed: wet; opened: loose", damage="bent",
        by=make.everyone(), happened=noon,
    )  # fmt: skip
    assert (case.owner.name, case.owner.address) == (UNKNOWN_SENDER, "Postmark Underford")
    assert case.items.get().note == "Damaged on the way: bent"
    assert events(case) == ["received", "parcel-arrived", "arrived-damaged"]


def test_when_the_owner_is_known_they_take_the_place_of_the_unknown_sender(make, noon):
    about = {"condition": "closed: dry; opened: padded", "damage": "", "by": make.everyone(), "happened": noon}
    case = actions.arrive_unknown(written="", items=[make.new_item()], **about)
    owner = make.party(name="Wren Halloway")
    actions.name_owner(case=case, owner=owner, because="named the serial", by=make.everyone(), happened=noon)
    case.refresh_from_db()
    assert {case.owner, case.bearer, case.payer} == {owner}
    assert words("owner-named") == "Wren Halloway; named the serial"


def test_a_case_that_has_an_owner_is_not_given_to_another(make, noon):
    case, other = make.case(), make.party()
    with pytest.raises(actions.OwnerIsKnown):
        actions.name_owner(case=case, owner=other, because="says so", by=make.everyone(), happened=noon)
    case.refresh_from_db()
    assert case.owner != other


@pytest.mark.parametrize("role", [Role.ENGINEER, Role.AUDITOR])
def test_parcels_are_for_those_who_take_in(make, noon, role):
    case = make.expected()
    with pytest.raises(NotAllowed):
        actions.arrive(case=case, by=make.actor(role), happened=noon)
    assert case.items.get().stage == Stage.EXPECTED


# --- the rest of an intake, and what is put right --------------------------------------------------------------------


def test_the_rest_of_an_intake_finishes_it_when_nothing_is_missing(make, noon):
    case = make.case(items=[make.new_item()], told=Told(stories=["dropped"]))
    assert case.intake_finished is None
    later = noon + timedelta(hours=3)
    told = Told(wanted=[WantedLine("Letters", urgent=True)])
    actions.complete_intake(case=case, told=told, by=make.everyone(), happened=later)
    case.refresh_from_db()
    assert case.intake_finished == later
    assert case.stories == ["dropped"]
    assert case.wanted.get().urgent


def test_finishing_by_word_counts_what_is_blank_as_asked(make, noon):
    case = make.case(told=Told(), signed=None)
    actions.complete_intake(case=case, finished=True, by=make.everyone(), happened=noon)
    assert case.intake_finished == noon
    assert events(case)[-1] == "intake-finished"


def test_a_correction_says_what_stood_there_and_what_stands_there_now(make, noon):
    item = make.item(serial="PW2M000001", maker="")
    actions.correct_item(
        item=item, changes={"serial": "PW2M0000O1", "maker": "Pelorus"}, because="read again", by=make.everyone(),
        happened=noon,
    )  # fmt: skip
    item.refresh_from_db()
    assert (item.serial, item.maker) == ("PW2M0000O1", "Pelorus")
    assert item.thing.serial_folded == "PW2M0000O1"
    said = words("intake-changed")
    assert "serial PW2M000001 → PW2M0000O1" in said
    assert "maker not known → Pelorus" in said
    assert said.endswith("(read again)")


def test_correcting_nothing_records_nothing(make, noon):
    item = make.item(maker="Pelorus")
    actions.correct_item(item=item, changes={"maker": "Pelorus", "stage": "closed"}, by=make.everyone(), happened=noon)
    assert Item.objects.get(pk=item.pk).stage == Stage.RECEIVED
    assert not Event.objects.filter(kind="intake-changed").exists()


def test_a_correction_can_come_from_the_bench_and_not_from_an_auditor(make, noon):
    item = make.item()
    actions.correct_item(item=item, changes={"heads": 4}, by=make.actor(Role.ENGINEER), happened=noon)
    assert Item.objects.get(pk=item.pk).heads == 4
    with pytest.raises(NotAllowed):
        actions.correct_item(item=item, changes={"heads": 6}, by=make.actor(Role.AUDITOR), happened=noon)


# --- what stops a case -----------------------------------------------------------------------------------------------


def test_disputed_ownership_is_noted_by_the_counter_and_settled_by_a_manager(make, noon):
    case = make.case()
    actions.dispute(case=case, because="the brother claims it", by=make.actor(Role.COUNTER), happened=noon)
    case.refresh_from_db()
    assert case.disputed
    with pytest.raises(NotAllowed):
        actions.settle_dispute(case=case, because="x", by=make.actor(Role.COUNTER), happened=noon)
    actions.settle_dispute(case=case, because="both signed", by=make.actor(Role.MANAGER), happened=noon)
    case.refresh_from_db()
    assert not case.disputed
    assert events(case)[-2:] == ["ownership-disputed", "dispute-settled"]


def test_a_hold_of_the_law_stops_the_examination_until_it_ends(make, noon):
    item = make.item()
    by = make.everyone()
    actions.hold_by_law(case=item.case, because="order 7", by=by, happened=noon)
    with pytest.raises(actions.NotYet, match="cannot become “examined”") as refused:
        actions.advance(item=item, to=Stage.EXAMINED, by=by, happened=noon)
    assert "The law holds it." in refused.value.why
    actions.end_hold(case=item.case, because="order lifted", by=by, happened=noon)
    assert actions.advance(item=item, to=Stage.EXAMINED, by=by, happened=noon).stage == Stage.EXAMINED


# --- the one door for stages -----------------------------------------------------------------------------------------


def test_a_stage_leaves_its_dated_stamp(make, noon):
    item = make.item()
    later = noon + timedelta(days=1)
    actions.advance(item=item, to=Stage.EXAMINED, by=make.actor(Role.ENGINEER), happened=later)
    stamp = StageStamp.objects.filter(item=item).last()
    assert (stamp.stage, stamp.happened, stamp.role) == (Stage.EXAMINED, later, Role.ENGINEER)


def test_whoever_looks_at_an_old_page_is_told(make, noon):
    item = make.item()
    stale = Item.objects.get(pk=item.pk)
    actions.advance(item=item, to=Stage.EXAMINED, by=make.everyone(), happened=noon)
    with pytest.raises(actions.SomeoneWasFaster, match="is “examined” now, not “received”"):
        actions.advance(item=stale, to=Stage.WITHDRAWN, by=make.everyone(), happened=noon)
    assert Item.objects.get(pk=item.pk).stage == Stage.EXAMINED


def test_no_item_takes_a_way_that_is_none(make, noon):
    item = make.item()
    with pytest.raises(actions.NotYet) as refused:
        actions.advance(item=item, to=Stage.READY, by=make.everyone(), happened=noon)
    assert "no way from “received” to “ready”" in refused.value.why[0]
    assert StageStamp.objects.filter(item=item).count() == 1


def test_a_guard_is_asked_again_in_the_database_and_says_every_reason(make, noon):
    item = make.item(case={"signed": None})
    with pytest.raises(actions.NotYet) as refused:
        actions.advance(item=item, to=Stage.EXAMINED, by=make.everyone(), happened=noon)
    assert refused.value.why == ("The customer has not allowed the examination.",)
    assert "terms signed" in refused.value.mend


def test_an_exit_has_its_reason_and_still_waits_for_the_handover(make, noon):
    item = make.item()
    actions.end_item(item=item, to=Stage.WITHDRAWN, because="found a copy", by=make.everyone(), happened=noon)
    item.case.refresh_from_db()
    assert item.stage == Stage.WITHDRAWN
    assert item.case.closed is None
    assert words("ended") == "withdrawn: found a copy"


def test_what_is_no_exit_cannot_be_one(make, noon):
    with pytest.raises(ValueError, match="no exit"):
        actions.end_item(item=make.item(), to=Stage.CLOSED, because="x", by=make.everyone(), happened=noon)


def test_a_case_closes_when_all_of_it_is_handed_over_and_not_before(make, noon):
    by = make.everyone()
    case = make.case(items=2)
    first, second = case.items.all()
    for item in (first, second):
        actions.end_item(item=item, to=Stage.WITHDRAWN, because="found a copy", by=by, happened=noon)
    actions.advance(item=first, to=Stage.HANDED_OVER, by=by, happened=noon)
    assert not actions.close_if_all_ended(case=case, by=by, happened=noon)
    actions.advance(item=second, to=Stage.HANDED_OVER, by=by, happened=noon)
    assert actions.close_if_all_ended(case=case, by=by, happened=noon)
    case.refresh_from_db()
    assert case.closed == noon
    assert set(case.items.values_list("stage", flat=True)) == {Stage.CLOSED}
    assert events(case).count("closed") == 1


def test_late_entry_keeps_when_it_happened_and_when_it_was_entered(make, noon):
    """Common practice: a paper pad is typed in later, and both times count."""
    item = make.item()
    stamp = StageStamp.objects.get(item=item)
    event = Event.objects.get(kind="received")
    assert stamp.happened == event.happened == item.happened == noon
    assert stamp.entered - noon > timedelta(days=1)
    assert event.entered - noon > timedelta(days=1)


# --- enquiries --------------------------------------------------------------------------------------------------------


def asked(make, noon, **about) -> Enquiry:
    return actions.enquire(name="Orrin Vale", by=make.everyone(), happened=noon, **about)


def test_an_enquiry_is_kept_with_what_was_answered(make, noon):
    enquiry = asked(make, noon, asked="It clicks.", advice="Stop using it.", price_from=20_000, price_to=60_000)
    assert enquiry.state == Enquiry.State.OPEN
    assert words("enquired") == "It clicks."


def test_an_enquiry_becomes_one_case(make, noon):
    enquiry = asked(make, noon)
    case = make.expected(enquiry=enquiry)
    enquiry.refresh_from_db()
    assert (enquiry.state, enquiry.case) == (Enquiry.State.CASE, case)
    with pytest.raises(actions.SomeoneWasFaster, match="become a case already"):
        make.case(enquiry=enquiry)
    enquiry.refresh_from_db()
    assert enquiry.case == case


def test_an_enquiry_that_ended_can_still_become_a_case(make, noon):
    enquiry = asked(make, noon)
    actions.end_enquiry(enquiry=enquiry, reason="too dear", by=make.everyone(), happened=noon)
    case = make.case(enquiry=enquiry)
    enquiry.refresh_from_db()
    assert enquiry.case == case
    assert words("enquiry-ended") == "too dear"


@pytest.mark.parametrize("verb", [actions.end_enquiry, actions.refuse])
def test_an_enquiry_is_answered_once(make, noon, verb):
    enquiry = asked(make, noon)
    make.case(enquiry=enquiry)
    with pytest.raises(actions.SomeoneWasFaster, match="not waiting any more"):
        verb(enquiry=enquiry, reason="x", by=make.everyone(), happened=noon)
    enquiry.refresh_from_db()
    assert enquiry.state == Enquiry.State.CASE


def test_a_refusal_at_the_counter_takes_nothing_in(make, noon):
    refused = actions.refuse(name="T. Arkwell", reason="no proof of ownership", by=make.everyone(), happened=noon)
    assert refused.state == Enquiry.State.REFUSED
    assert words("refused") == "no proof of ownership"
    assert not Party.objects.exists()
    assert not Item.objects.exists()
