"""The day sheet: everything the Counter has to do with today, on one page that prints."""

from __future__ import annotations

import pytest

from labcases.cases.models import Draft
from labcases.cases.views.day import SHEET
from labcases.core import sections
from labcases.lab.roles import Role

ADDRESS = "/counter/today/"


@pytest.fixture
def counter(make, client_as):
    make.profile(country="GB")
    return client_as(Role.COUNTER)


def test_every_room_puts_its_part_on_the_sheet_in_order():
    assert [part.key for part in sections.of_front(SHEET)] == ["due-to-collect", "expected", "unfinished", "unsent"]


def test_an_empty_day_says_so_part_by_part(counter):
    page = counter.get(ADDRESS).content.decode()
    assert page.count('class="blank"') == 4


def test_a_parcel_and_a_half_done_intake_stand_on_the_sheet(counter, make):
    coming = make.expected(owner=make.party(name="Bartola Kwe"))
    case = make.case(signed=None)
    page = counter.get(ADDRESS).content.decode()
    assert str(coming) in page
    assert str(case) in page


def test_what_a_front_page_would_cut_short_is_on_the_sheet_in_full(counter, make):
    person = make.staff(roles=[Role.COUNTER])
    for number in range(35):
        Draft.objects.create(
            person=person, key=f"00000000-0000-4000-8000-{number:012d}", typed=f"owner-name=Kwe+{number}"
        )
    shown = {page: counter.get(page).content.decode().count("Throw away the draft") for page in (ADDRESS, "/counter/")}
    assert shown == {ADDRESS: 35, "/counter/": 30}


def test_somebody_who_only_reads_sees_the_sheet_too_and_finds_it_from_the_counter(client_as, make):
    make.profile(country="GB")
    auditor = client_as(Role.AUDITOR)
    assert ADDRESS in auditor.get("/counter/").content.decode()
    assert auditor.get(ADDRESS).status_code == 200


def test_the_sheet_asks_as_often_for_twenty_parcels_as_for_two(counter, make, django_assert_max_num_queries):
    for _ in range(2):
        make.case(signed=None)
        make.expected()
    with django_assert_max_num_queries(60) as few:
        counter.get(ADDRESS)
    for _ in range(10):
        make.case(signed=None)
        make.expected()
    with django_assert_max_num_queries(len(few)):
        counter.get(ADDRESS)
