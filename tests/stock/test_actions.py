"""The verbs of the stockroom, and what the database never lets happen."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from labcases.core.refused import NotAllowed
from labcases.custody.models import Event
from labcases.lab.models import Entry
from labcases.lab.roles import Role
from labcases.stock import actions
from labcases.stock.models import Destination, DestinationAssignment, DonorPart, PartAssignment
from labcases.stock.wiping.actions import wipe

State = Destination.State


@pytest.fixture
def ours(make):
    """An engineer's verbs on a patient with a part and a destination that fit."""
    make.family("Pelorus Minnow", aliases=[("Pelorus", "PL500")])
    return make.item(), make.part(), make.destination(), make.actor(Role.ENGINEER)


def wiped(medium, by, noon, **about):
    about = {"method": "clear", "tool": "overwrite 1.2", "verified": "full"} | about
    return wipe(destination=medium, by=by, happened=noon, **about)


def serve(medium, item, by, noon):
    return actions.assign_destination(destination=medium, patient=item, by=by, happened=noon)


def fresh(row):
    return type(row).objects.get(pk=row.pk)


# --- parts ---


def test_a_part_is_assigned_with_its_reasons_and_one_event(ours, noon):
    item, part, _, by = ours
    made = actions.assign_donor(part=part, patient=item, by=by, happened=noon)
    assert fresh(part).state == DonorPart.State.ASSIGNED
    assert {reason["attribute"] for reason in made.verdict["reasons"]} >= {"family", "head_map"}
    assert Event.objects.filter(kind="part-assigned", case_code=item.case.code, thing_code=part.thing.code).count() == 1


def test_a_part_that_serves_a_patient_says_who_was_faster(ours, make, noon):
    item, part, _, by = ours
    actions.assign_donor(part=part, patient=item, by=by, happened=noon)
    with pytest.raises(actions.PartTaken, match=f"is taken by {by.name}: it serves {item}"):
        actions.assign_donor(part=part, patient=make.item(), by=by, happened=noon)


def test_the_database_refuses_a_second_patient_even_to_a_raw_write(ours, make, noon):
    item, part, medium, by = ours
    actions.assign_donor(part=part, patient=item, by=by, happened=noon)
    serve(medium, item, by, noon)
    stamp = Entry.stamp(by, noon)
    with pytest.raises(IntegrityError), transaction.atomic():
        PartAssignment.objects.create(part=part, item=make.item(), verdict={}, **stamp)
    with pytest.raises(IntegrityError), transaction.atomic():
        DestinationAssignment.objects.create(destination=medium, item=make.item(), fit={}, **stamp)


def test_a_part_that_does_not_match_is_refused_with_what_differs(ours, make, noon):
    item, _, _, by = ours
    make.family("Corvane Tern", aliases=[("Corvane", "CT1000")])
    other = make.part(maker="Corvane", model="CT1000-1M")
    with pytest.raises(actions.NotAMatch) as refused:
        actions.assign_donor(part=other, patient=item, by=by, happened=noon, lifted="in a hurry")
    assert any("Corvane Tern" in sentence for sentence in refused.value.sentences())
    assert fresh(other).state == DonorPart.State.FREE


def test_a_manager_lifts_the_stop_with_a_reason_that_stays_on_record(ours, make, noon):
    item, _, _, _ = ours
    make.family("Corvane Tern", aliases=[("Corvane", "CT1000")])
    other, boss = make.part(maker="Corvane", model="CT1000-1M"), make.actor(Role.MANAGER)
    made = actions.assign_donor(part=other, patient=item, by=boss, happened=noon, lifted="Same mechanism, seen open.")
    assert made.lifted == "Same mechanism, seen open."
    assert Event.objects.filter(kind="stop-lifted", case_code=item.case.code).exists()


def test_released_unused_a_part_is_free_again_and_only_once(ours, noon):
    item, part, _, by = ours
    made = actions.assign_donor(part=part, patient=item, by=by, happened=noon)
    actions.release_part(assignment=made, by=by, happened=noon, because="The heads were sound after all.")
    assert fresh(part).state == DonorPart.State.FREE
    with pytest.raises(actions.NotNow, match="ended already"):
        actions.release_part(assignment=made, by=by, happened=noon, because="again")


@pytest.mark.parametrize("afterwards", ["used", "spoiled", "free"])
def test_after_use_the_outcome_is_kept_and_the_part_is_what_it_is(ours, noon, afterwards):
    item, part, _, by = ours
    made = actions.assign_donor(part=part, patient=item, by=by, happened=noon)
    actions.judge_part(
        assignment=made, outcome="partly", because="Head 1 died.", afterwards=afterwards, by=by, happened=noon
    )
    assert (fresh(made).outcome, fresh(part).state) == ("partly", "returned" if afterwards == "free" else afterwards)


def test_a_spoiled_board_does_not_spoil_the_heads(make, noon):
    donor, by = make.donor(parts=["head stack", "controller board"]), make.everyone()
    board = donor.parts.get(part="controller board")
    actions.note_test(part=board, tested="short on 12 V", spoiled=True, by=by, happened=noon)
    assert {part.part: part.state for part in donor.parts.all()} == {
        "head stack": "free",
        "controller board": "spoiled",
    }


def test_a_part_that_serves_a_patient_is_not_spoiled_by_a_test(ours, noon):
    item, part, _, by = ours
    actions.assign_donor(part=part, patient=item, by=by, happened=noon)
    with pytest.raises(actions.NotNow, match="is taken by"):
        actions.note_test(part=part, tested="dropped", spoiled=True, by=by, happened=noon)
    assert fresh(part).tested == ""


def test_nothing_is_assigned_to_a_patient_that_has_left(ours, noon):
    item, part, medium, by = ours
    type(item).objects.filter(pk=item.pk).update(stage="handed over")
    for press in (
        lambda: actions.assign_donor(part=part, patient=item, by=by, happened=noon),
        lambda: serve(medium, item, by, noon),
    ):
        with pytest.raises(actions.NotNow, match="handed over"):
            press()


@pytest.mark.parametrize("role", [Role.COUNTER, Role.AUDITOR])
def test_who_may_not_assign_is_told(ours, make, noon, role):
    item, part, medium, _ = ours
    other = make.actor(role)
    with pytest.raises(NotAllowed):
        actions.assign_donor(part=part, patient=item, by=other, happened=noon)
    with pytest.raises(NotAllowed):
        serve(medium, item, other, noon)


# --- media ---


def test_a_medium_goes_into_the_service_of_one_case(ours, noon):
    item, _, medium, by = ours
    made = serve(medium, item, by, noon)
    assert (fresh(medium).state, fresh(medium).held_for) == (State.ASSIGNED, item.case)
    assert made.fit["fits"]


def test_what_holds_one_customers_data_is_refused_for_another_until_its_wipe(ours, make, noon):
    item, _, medium, by = ours
    other = make.item()
    actions.release_destination(assignment=serve(medium, item, by, noon), written=True, by=by, happened=noon)
    with pytest.raises(actions.DoesNotFit, match=f"holds data of case {item.case}"):
        serve(fresh(medium), other, by, noon)
    wiped(medium, by, noon)
    assert serve(fresh(medium), other, by, noon).item == other


def test_the_same_case_uses_its_own_medium_again(ours, noon):
    item, _, medium, by = ours
    actions.release_destination(assignment=serve(medium, item, by, noon), written=True, by=by, happened=noon)
    assert serve(fresh(medium), item, by, noon).fit["warnings"]


def test_released_unwritten_it_is_what_it_was_before(ours, noon):
    item, _, medium, by = ours
    Destination.objects.filter(pk=medium.pk).update(state=State.WIPED)
    actions.release_destination(assignment=serve(fresh(medium), item, by, noon), written=False, by=by, happened=noon)
    assert (fresh(medium).state, fresh(medium).held_for) == (State.WIPED, None)


def test_used_again_and_released_unwritten_it_still_holds_the_old_data(ours, noon):
    item, _, medium, by = ours
    actions.release_destination(assignment=serve(medium, item, by, noon), written=True, by=by, happened=noon)
    again = serve(fresh(medium), item, by, noon)
    actions.release_destination(assignment=again, written=False, by=by, happened=noon)
    assert (fresh(medium).state, fresh(medium).held_for) == (State.HOLDS_DATA, item.case)


def test_the_day_book_is_believed_before_who_says_that_nothing_was_written(ours, noon):
    from labcases.custody.actions import record, recorded

    item, _, medium, by = ours
    made = serve(medium, item, by, noon)
    recorded(record)("cloned", thing=item.thing, by=by, happened=noon, case=item.case.code, because="all heads")
    with pytest.raises(actions.NotNow, match="was copied while"):
        actions.release_destination(assignment=made, written=False, by=by, happened=noon)
    assert fresh(made).ended is None


def test_a_medium_too_small_says_by_how_many_sectors(ours, make, noon):
    item, _, _, by = ours
    with pytest.raises(actions.DoesNotFit, match=r"\(1 too few\)"):
        serve(make.destination(sectors=item.sectors - 1), item, by, noon)


def test_other_sector_sizes_are_warned_of_and_kept_on_record(ours, make, noon):
    item, _, _, by = ours
    made = serve(make.destination(sectors=item.sectors // 8, sector_bytes=4096), item, by, noon)
    assert made.fit["translation"] == [512, 4096]
    assert any("Sector sizes differ" in warning for warning in made.fit["warnings"])


def test_a_delivery_medium_may_be_smaller_than_the_patient(ours, make, noon):
    item, _, _, by = ours
    stick = make.destination(use="delivery", sectors=1_000_000)
    made = serve(stick, item, by, noon)
    assert any("see that what is recovered fits" in warning for warning in made.fit["warnings"])


def test_a_delivery_medium_with_anothers_data_is_refused_however_large(ours, make, noon):
    item, _, _, by = ours
    stick = make.destination(use="delivery")
    made = serve(stick, item, by, noon)
    actions.release_destination(assignment=made, written=True, by=by, happened=noon)
    with pytest.raises(actions.DoesNotFit):
        serve(fresh(stick), make.item(), by, noon)


def test_a_customers_own_medium_serves_its_own_case_only_and_needs_consent(ours, make, noon):
    item, _, _, by = ours
    own = make.destination(use="delivery", own_of=item.case)
    with pytest.raises(actions.DoesNotFit, match="no written consent"):
        serve(own, item, by, noon)
    Destination.objects.filter(pk=own.pk).update(consent="Signed at the counter: may be written on.")
    with pytest.raises(actions.DoesNotFit, match="belongs to the customer of case"):
        serve(fresh(own), make.item(), by, noon)
    assert serve(fresh(own), item, by, noon).item == item


def test_a_customers_own_medium_is_never_wiped_and_stays_theirs(ours, make, noon):
    item, _, _, by = ours
    own = make.destination(use="delivery", own_of=item.case)
    Destination.objects.filter(pk=own.pk).update(consent="Signed at the counter: may be written on.")
    made = serve(fresh(own), item, by, noon)
    actions.release_destination(assignment=made, written=False, by=by, happened=noon)
    assert fresh(own).held_for == item.case
    with pytest.raises(actions.NotNow, match="belongs to a customer"):
        wiped(own, by, noon)


def test_the_database_refuses_a_customers_own_medium_that_names_no_case(ours, make, noon):
    item, *_ = ours
    own = make.destination(own_of=item.case)
    with pytest.raises(IntegrityError), transaction.atomic():
        Destination.objects.filter(pk=own.pk).update(state=State.WIPED, held_for=None)


def test_a_medium_that_serves_is_neither_wiped_nor_retired(ours, noon):
    item, _, medium, by = ours
    serve(medium, item, by, noon)
    with pytest.raises(actions.NotNow, match="it serves"):
        wiped(medium, by, noon)
    with pytest.raises(actions.NotNow, match="it serves"):
        actions.retire(destination=medium, by=by, happened=noon, because="noise")


def test_the_wipe_names_whose_data_it_was(ours, noon):
    item, _, medium, by = ours
    actions.release_destination(assignment=serve(medium, item, by, noon), written=True, by=by, happened=noon)
    made = wiped(medium, by, noon + timedelta(days=1), method="purge", verified="sampled")
    assert (made.case, fresh(medium).state, fresh(medium).held_for) == (item.case, State.WIPED, None)


def test_retired_with_data_on_it_it_says_so_until_it_is_destroyed(ours, noon):
    item, _, medium, by = ours
    actions.release_destination(assignment=serve(medium, item, by, noon), written=True, by=by, happened=noon)
    actions.retire(destination=fresh(medium), by=by, happened=noon, because="pending sectors grow")
    assert fresh(medium).holds == f"Holds data of case {item.case}; no wipe is on record."
    wiped(fresh(medium), by, noon, method="destroy", tool="shredder", verified="seen")
    assert (fresh(medium).state, fresh(medium).holds) == (State.RETIRED, "")


def test_what_is_retired_or_handed_out_is_never_assigned(ours, make, noon):
    item, _, medium, by = ours
    actions.retire(destination=medium, by=by, happened=noon, because="noise")
    with pytest.raises(actions.DoesNotFit, match="retired"):
        serve(fresh(medium), item, by, noon)
    other = make.destination()
    Destination.objects.filter(pk=other.pk).update(state=State.ASSIGNED, held_for=item.case)
    Destination.objects.filter(pk=other.pk).update(state=State.GONE)
    with pytest.raises(actions.DoesNotFit, match="handed out"):
        serve(fresh(other), item, by, noon)


def test_handed_out_a_medium_ends_its_service_and_is_with_the_customer(ours, make, noon):
    from labcases.custody.models import Whereabouts

    item, _, medium, by = ours
    made, boss = serve(medium, item, by, noon), make.actor(Role.MANAGER)
    to = Whereabouts(party=item.case.owner)
    actions.give_out(destination=medium, to=to, by=boss, happened=noon)
    assert (fresh(medium).state, fresh(made).ended, fresh(medium).thing.party) == (State.GONE, noon, item.case.owner)
    with pytest.raises(actions.NotNow, match="carries nothing out"):
        actions.give_out(destination=medium, to=to, by=boss, happened=noon)


# --- keeping stock ---


def test_a_series_of_media_comes_in_whole_or_not_at_all(make, noon):
    by, about = make.everyone(), {"kind": "stick", "sectors": 1000, "sector_bytes": 512, "use": "delivery"}
    made = actions.stock_destinations(serials=["A1234", "B1234"], how_many=3, by=by, happened=noon, **about)
    assert [one.serial for one in made] == ["A1234", "B1234", ""]
    with pytest.raises(IntegrityError), transaction.atomic():
        actions.stock_destinations(serials=[], how_many=3, by=by, happened=noon, **about | {"sectors": 0})
    assert Destination.objects.count() == 3


def test_a_serial_that_is_listed_twice_is_refused_however_it_is_typed(make, noon):
    about = {"kind": "stick", "sectors": 1000, "sector_bytes": 512}
    with pytest.raises(actions.SerialTwice, match="a-1234"):
        actions.stock_destinations(serials=["A1234", "a-1234"], how_many=2, by=make.everyone(), happened=noon, **about)


def test_a_correction_of_an_old_page_is_refused(make, noon):
    donor, by = make.donor(), make.everyone()
    seen = donor.thing.last_event
    actions.change_donor(donor=donor, seen=seen, by=by, happened=noon, firmware="M1.07")
    with pytest.raises(actions.Changed):
        actions.change_donor(donor=donor, seen=seen, by=by, happened=noon, firmware="M1.04")
    assert fresh(donor).firmware == "M1.07"


def test_a_corrected_serial_is_found_under_its_new_spelling(make, noon):
    donor, by = make.donor(serial="PD-OLD-0001"), make.everyone()
    actions.change_donor(donor=donor, seen=donor.thing.last_event, by=by, happened=noon, serial="PD-NEW-0002")
    assert type(donor.thing).objects.known_by_serial("pdnew0002").get() == donor.thing


def test_the_state_of_a_medium_is_not_corrected_like_a_label(make, noon):
    medium = make.destination()
    with pytest.raises(ValueError, match="state is not corrected here"):
        actions.change_destination(
            destination=medium, seen=medium.thing.last_event, by=make.everyone(), happened=noon, state=State.WIPED
        )


def test_a_new_family_takes_in_what_stood_without_one(make):
    donor, item, stranger = make.donor(), make.item(), make.donor(maker="Corvane", model="PL500-9")
    family = make.family("Pelorus Minnow", aliases=[("Pelorus", "PL-500")])
    assert (fresh(donor).family, fresh(item).family, fresh(stranger).family) == (family, family, None)


def test_a_family_keeps_its_aliases_as_they_are_said_last(make, noon):
    family = make.family("Minnow", aliases=[("", "PL500"), ("", "PL320")])
    actions.keep_family(
        family=family, name="Minnow", aliases=[("", "PL320"), ("", "PL640")], by=make.everyone(), happened=noon
    )
    assert {alias.model_start for alias in family.aliases.all()} == {"PL320", "PL640"}
