"""Two records of one customer become one with everything attached, and two again."""

from __future__ import annotations

import pytest
from django.apps import apps
from django.db import models

from labcases.cases.actions import log_drive
from labcases.custody.models import Event
from labcases.lab.roles import Role
from labcases.people import queries
from labcases.people.actions import HasBecomeAnother, correct, remember
from labcases.people.forms import WhoForm
from labcases.people.merging import queries as merging
from labcases.people.merging.actions import CannotPart, HasGone, NotTwoRecords, merge, part
from labcases.people.models import Party
from tests.builders import NOON


@pytest.fixture
def kept(make):
    return make.party(name="Bartola Kwe", phone="+441184960743", email="")


@pytest.fixture
def gone(make):
    return make.party(name="B. Kwe", phone="+441184960999", email="kwe@example.com", company="Kwe Ltd")


@pytest.fixture
def merged(make, kept, gone):
    """Merge the two; ``chosen`` says which record is right."""
    return lambda **chosen: merge(
        kept=kept, gone=gone, by=make.everyone(), happened=NOON, because="same card", chosen=chosen
    )


@pytest.fixture
def parted(make):
    return lambda done: part(merge=done, by=make.everyone(), happened=NOON, because="two people")


def naming_fields():
    """Every field of every model that points at a party, found by walking the models themselves."""
    for model in apps.get_models(include_auto_created=True):
        for field in model._meta.local_fields:
            if field.is_relation and field.related_model is Party:
                yield field


def label(field):
    return f"{field.model._meta.label}.{field.name}"


def test_every_field_of_any_room_that_names_a_party_moves_or_says_why_it_stays():
    moves = {one.label for one in merging.namings()}
    named = {label(field) for field in naming_fields()}
    assert named == moves | set(merging.STAYS)
    assert {"cases.Case.owner", "cases.Case.payer", "stock.Destination.owned_by", "people.Party.merged_into"} <= moves
    assert not moves & set(merging.STAYS)


def test_what_may_name_a_party_once_only_says_why_it_stays():
    """Moving such a row would break its rule where the kept record has one too; whoever adds one decides."""
    once = {label(field) for field in naming_fields() if isinstance(field, models.OneToOneField) or field.unique}
    assert once <= set(merging.STAYS)


def test_everything_attached_goes_to_the_kept_record(make, kept, gone, merged):
    own, other = make.case(owner=gone), make.case(bearer=gone, payer=gone)
    merged()
    own.refresh_from_db(), other.refresh_from_db()
    assert (own.owner, own.bearer, other.bearer, other.payer) == (kept, kept, kept, kept)


def test_undoing_moves_back_what_moved_and_leaves_what_came_since(make, kept, gone, merged, parted):
    before, already = make.case(owner=gone), make.case(owner=kept)
    done = merged()
    since = make.case(owner=kept)
    parted(done)
    for case in (before, already, since):
        case.refresh_from_db()
    assert [before.owner, already.owner, since.owner] == [gone, kept, kept]
    assert Party.objects.get(pk=gone.pk).merged_into is None


def test_what_was_given_to_a_third_one_since_stays_with_them(make, gone, merged, parted):
    case, third = make.case(owner=gone), make.party()
    done = merged()
    case.refresh_from_db()
    case.owner = third
    case.save()
    parted(done)
    case.refresh_from_db()
    assert case.owner == third
    assert case.bearer == gone


def test_the_kept_record_takes_over_what_was_chosen_and_the_other_keeps_its_words(kept, gone, merged):
    merged(email="gone", company="gone", name="kept", phone="kept")
    kept.refresh_from_db(), gone.refresh_from_db()
    assert (kept.name, kept.email, kept.company, kept.phone) == (
        "Bartola Kwe", "kwe@example.com", "Kwe Ltd", "+441184960743",
    )  # fmt: skip
    assert (gone.name, gone.phone) == ("B. Kwe", "+441184960999")


def test_undoing_empties_what_was_taken_over_unless_it_was_changed_since(make, kept, gone, merged, parted):
    done = merged(email="gone", company="gone")
    correct(party=kept, by=make.everyone(), company="Kwe and Daughter")
    parted(done)
    kept.refresh_from_db()
    assert (kept.email, kept.company) == ("", "Kwe and Daughter")


def test_undoing_leaves_a_way_to_reach_them(make, kept, gone, merged, parted):
    done = merged(email="gone")
    correct(party=kept, by=make.everyone(), phone="")
    parted(done)
    assert Party.objects.get(pk=kept.pk).email == "kwe@example.com"


def test_two_notes_may_both_stay(make):
    kept, gone = make.party(note="Rings before noon."), make.party(note="Has a dog.")
    merge(kept=kept, gone=gone, by=make.everyone(), happened=NOON, because="same", chosen={"note": "both"})
    assert Party.objects.get(pk=kept.pk).note == "Rings before noon.\nHas a dog."


@pytest.mark.parametrize("typed", ["B. Kwe", "0999", "kwe ltd"])
def test_a_merged_record_is_not_found_and_its_words_find_the_kept_one(kept, gone, merged, parted, typed):
    done = merged()
    assert [one.party for one in queries.matching(typed)] == [kept]
    assert list(Party.objects.found_by(typed)) == [kept]
    parted(done)
    assert [one.party for one in queries.matching(typed)] == [gone]


def test_saving_a_merged_record_does_not_make_it_found_again(kept, gone, merged):
    merged()
    gone.save(update_fields=["note"])
    assert [one.party for one in queries.matching("0999")] == [kept]


def test_one_record_is_not_merged_with_itself(make, kept):
    with pytest.raises(NotTwoRecords):
        merge(kept=kept, gone=kept, by=make.everyone(), happened=NOON, because="same")


@pytest.mark.parametrize("turn", ["gone again", "into the gone one"])
def test_a_record_that_has_gone_goes_nowhere_else_and_takes_nothing_in(make, kept, gone, merged, turn):
    merged()
    third = make.party()
    pair = {"kept": third, "gone": gone} if turn == "gone again" else {"kept": gone, "gone": third}
    with pytest.raises(HasGone, match="Bartola Kwe"):
        merge(**pair, by=make.everyone(), happened=NOON, because="same")


def test_a_kept_record_that_goes_on_takes_its_merged_ones_along(make, kept, gone, merged, parted):
    case, third = make.case(owner=gone), make.party()
    first = merged()
    second = merge(kept=third, gone=kept, by=make.everyone(), happened=NOON, because="same")
    assert Party.objects.get(pk=gone.pk).stands_as == third
    with pytest.raises(CannotPart):
        parted(first)
    parted(second)
    parted(first)
    case.refresh_from_db()
    assert case.owner == gone


def test_a_merge_is_undone_once(merged, parted):
    done = merged()
    parted(done)
    with pytest.raises(CannotPart):
        parted(done)


def test_parted_records_can_be_merged_the_other_way(make, kept, gone, merged, parted):
    parted(merged())
    merge(kept=gone, gone=kept, by=make.everyone(), happened=NOON, because="the newer one is right")
    assert Party.objects.get(pk=kept.pk).merged_into == gone


def test_merging_and_parting_are_one_event_each_and_past_ones_say_what_they_said(make, kept, gone, merged, parted):
    make.case(owner=gone)
    past = list(Event.objects.order_by("sequence").values_list("body", flat=True))
    parted(merged())
    now = list(Event.objects.order_by("sequence").values_list("body", flat=True))
    assert [bytes(body) for body in now[: len(past)]] == [bytes(body) for body in past]
    assert list(Event.objects.order_by("sequence").values_list("kind", flat=True))[len(past) :] == [
        "customers-merged", "customers-parted",
    ]  # fmt: skip


def test_a_thing_stays_with_whom_the_ledger_named(make, gone, merged):
    """Its next event must begin where its last one ended."""
    case = make.expected(owner=gone)
    merged()
    assert case.items.get().thing.party == gone


def test_a_form_that_was_open_meanwhile_takes_in_for_who_they_became(make, kept, gone, merged):
    make.terms()
    merged()
    case = log_drive(owner=gone, items=[make.new_item()], by=make.everyone(), happened=NOON)
    assert (case.owner, case.bearer, case.payer) == (kept, kept, kept)


def test_what_is_told_of_a_merged_record_goes_to_the_kept_one(make, kept, gone, merged):
    merged()
    assert remember(party=gone, address="1 Quay") == kept
    with pytest.raises(HasBecomeAnother):
        correct(party=gone, by=make.everyone(), address="1 Quay")


def test_the_counter_refuses_a_merged_record_and_says_who_they_are_now(gone, merged):
    merged()
    form = WhoForm({"known": gone.pk, "name": gone.name, "email": "kwe@example.com"}, country="GB")
    assert "has gone into that of Bartola Kwe" in form.errors["name"][0]


@pytest.mark.parametrize(
    ("about", "found"),
    [({"phone": "+441184960743"}, True), ({"email": "KWE@example.com"}, True), ({"name": "Bartola Kwe"}, False)],
)
def test_a_twin_has_the_same_number_or_address(make, about, found):
    party = make.party(name="Bartola Kwe", phone="+441184960743", email="kwe@example.com")
    other = make.party(**{"phone": "", "email": "other@example.com", "address": "1 Quay"} | about)
    assert merging.twins(party) == [other] * found
    assert merging.twins(other) == [party] * found


def test_nobody_is_the_twin_of_all_who_have_no_number(make):
    party, _ = (make.party(phone="", email="", address="1 Quay") for _ in range(2))
    assert merging.twins(party) == []


def test_merging_asks_no_more_for_many_cases(make, kept, gone, merged, django_assert_max_num_queries):
    for _ in range(6):
        make.case(owner=gone)
    with django_assert_max_num_queries(60):
        merged()


def test_only_the_counter_and_a_manager_merge(client_as, kept, gone):
    assert client_as(Role.ENGINEER).get(f"/people/{kept.pk}/merge/?with={gone.pk}").status_code == 403
    assert client_as(Role.COUNTER).get(f"/people/{kept.pk}/merge/?with={gone.pk}").status_code == 200
