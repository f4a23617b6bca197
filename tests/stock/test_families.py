"""Families: sizes as people write them, the card, a family begun from a case, and the hint while a model is typed."""

from __future__ import annotations

import uuid
from contextlib import suppress

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import strategies as st

from labcases.cases import families
from labcases.lab.roles import Role
from labcases.stock.actions import assign_donor, judge_part
from labcases.stock.models import Family
from labcases.stock.queries import card
from labcases.stock.sizes import NotASize, Size, likely, sizes_in_words, sizes_said

SIZES = st.lists(
    st.builds(Size, st.integers(1, 999_999), *[st.none() | st.integers(0, 99)] * 2),
    unique_by=lambda size: size.gigabytes,
)


@given(SIZES)
def test_sizes_in_words_read_back_as_they_were(sizes: list[Size]) -> None:
    assert sizes_said(sizes_in_words(sizes)) == sorted(sizes, key=lambda size: size.gigabytes)


@pytest.mark.parametrize(
    "text", ["heads 2", "0 GB", "500, 2", "500, 2 heads, 3 heads", "500\n500 GB", "1,2,3", "5e3", ",", "500 GB, 2 arms"]
)
def test_what_is_no_size_is_refused_with_a_sentence(text: str) -> None:
    with pytest.raises(NotASize, match=r"\.$"):
        sizes_said(text)


@given(st.text(max_size=60))
def test_no_text_makes_the_reader_fail_otherwise(text: str) -> None:
    with suppress(NotASize):
        assert all(size.gigabytes >= 1 for size in sizes_said(text))


def test_terabytes_are_a_thousand_gigabytes_and_have_the_standards_sectors() -> None:
    """SFF-8447 for 2 000 GB; from memory: 3 907 029 168, as the vectors of the standard hold."""
    assert sizes_said("2 TB, 4 heads")[0].sectors == 3_907_029_168


def test_a_known_count_of_sectors_rules_over_the_figures_of_the_name() -> None:
    both = [Size(500), Size(1000)]
    assert likely(both, model="PL500", sectors=1_953_525_168) == [Size(1000)]
    assert likely(both, model="PL500", sectors=12_345) == []
    assert likely(both, model="PLX", sectors=None) == both


# --- the card ---


@pytest.fixture
def minnow(make) -> Family:
    sizes = [Size(500, 2, 1), Size(1000, 4, 2)]
    return make.family("Pelorus Minnow", aliases=[("", "PL500"), ("Corvane", "CX5")], sizes=sizes, quirks="Sticks.")


def used(make, noon, outcome: str) -> None:
    by = make.everyone()
    made = assign_donor(part=make.part(), patient=make.item(), by=by, happened=noon)
    judge_part(assignment=made, outcome=outcome, because="Heads read well.", by=by, happened=noon)


def test_the_card_counts_what_worked_and_lists_the_cases(make, noon, minnow, client_as):
    make.profile()
    for outcome in ("worked", "worked", "failed"):
        used(make, noon, outcome)
    entry = card.worked(minnow)[0]
    assert (entry.part, entry.expected.count, entry.expected.worked) == ("head stack", 3, 2)
    assert len(card.cases_of(minnow)) == 3
    page = client_as(Role.COUNTER).get(minnow.get_absolute_url()).content.decode()
    for said in ("2 worked, 1 failed", "976,773,168", "Heads read well.", "Sticks.", "26-00001-P1"):
        assert said in page


def test_the_card_costs_the_same_however_much_is_known(make, noon, minnow, client_as):
    make.profile()
    client = client_as(Role.ENGINEER)

    def cost() -> int:
        with CaptureQueriesContext(connection) as ran:
            assert client.get(minnow.get_absolute_url()).status_code == 200
        return len(ran)

    used(make, noon, "worked")
    before = cost()
    for _ in range(3):
        used(make, noon, "failed")
    assert cost() == before


@pytest.mark.parametrize(("role", "status"), [(Role.ENGINEER, 303), (Role.MANAGER, 303), (Role.COUNTER, 403)])
def test_only_keepers_of_the_stockroom_correct_it(make, minnow, client_as, role, status):
    make.profile()
    typed = {"once": str(uuid.uuid4()), "name": "Minnow", "sold_as": "PL500", "sizes": "500 GB, 3 heads"}
    answer = client_as(role).post(f"/stockroom/families/{minnow.pk}/change/", typed)
    assert answer.status_code == status
    assert [size.heads for size in minnow.sizes.all()] == ([3] if status == 303 else [2, 4])


def test_a_mistyped_size_is_said_beside_its_field(make, minnow, client_as):
    make.profile()
    typed = {"once": str(uuid.uuid4()), "name": "Minnow", "sold_as": "PL500", "sizes": "500 GB, 3 arms"}
    answer = client_as(Role.ENGINEER).post(f"/stockroom/families/{minnow.pk}/change/", typed)
    assert answer.status_code == 422
    assert "is neither heads nor platters" in answer.content.decode()
    assert minnow.sizes.count() == 2


def test_a_family_is_begun_from_a_patient_and_adopts_it(make, client_as):
    make.profile()
    item, client = make.item(), client_as(Role.ENGINEER)
    page = client.get(f"/stockroom/for/{item}/family/").content.decode()
    assert "Pelorus, PL500-2M" in page
    assert "500 GB" in page
    typed = {"once": str(uuid.uuid4()), "name": "Minnow", "sold_as": "Pelorus, PL500-2M", "sizes": "500 GB, 2 heads"}
    client.post(f"/stockroom/for/{item}/family/", typed)
    item.refresh_from_db()
    assert item.family == Family.objects.get()


# --- the hint ---


def test_a_typed_model_says_its_family_and_what_is_inside(minnow):
    hint = families.hints([("Pelorus", "PL500-2M", None)])[0]
    assert (hint.name, hint.lines) == ("Pelorus Minnow", ("500 GB: 2 heads, 1 platter", "Sticks."))
    assert hint.sizes == (("500 GB", 976_773_168),)


def test_an_alias_of_one_maker_is_no_hint_for_another(minnow):
    found = families.hints([("Corvane", "CX5-1", None), ("Bramford", "CX5-1", None), ("", "ZZZ", None), ("", "", None)])
    assert [hint.name if hint else None for hint in found] == ["Pelorus Minnow", None, None, None]


def test_a_hint_costs_the_same_for_one_model_and_for_twenty(minnow):
    def cost(count: int) -> int:
        with CaptureQueriesContext(connection) as ran:
            families.hints([("Pelorus", f"PL500-{n}", None) for n in range(count)])
        return len(ran)

    assert cost(20) == cost(1) <= 3
