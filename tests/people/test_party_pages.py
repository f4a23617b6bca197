"""Finding somebody, their page, and putting right what is known."""

from __future__ import annotations

import pytest

from labcases.lab.roles import Role
from labcases.people import queries
from labcases.people.models import Party


@pytest.fixture
def counter(make, client_as):
    make.profile(country="GB")
    return client_as(Role.COUNTER)


@pytest.mark.parametrize(
    "typed", ["0743", "0118 496 0743", "+44 118 496 0743", "bar", "KWE bartola", "Kwe Ltd", "kwe@"]
)
def test_somebody_is_found_by_any_part_of_a_name_or_the_end_of_a_number(make, typed):
    party = make.party(name="Bártola Kwe", company="Kwe Ltd", phone="+441184960743", email="kwe@example.com")
    make.party(name="Orrin Vale", phone="+441184961999")
    assert [one.party for one in queries.matching(typed)] == [party]


@pytest.mark.parametrize("typed", ["", "b", "743", "\x00", "%", "_", "Kwe Pelorus"])
def test_too_little_or_the_wrong_thing_finds_nobody(make, typed):
    make.party(name="Bartola Kwe", phone="+441184960743", email="")
    assert queries.matching(typed) == []


def test_finding_takes_two_queries_however_many_are_found(make, django_assert_num_queries):
    for _ in range(12):
        make.party(name="Kwe")
    with django_assert_num_queries(2):
        assert len(queries.matching("kwe")) == 8


def test_searching_works_as_a_page_of_its_own(counter, make):
    party = make.party(name="Bartola Kwe")
    page = counter.get("/people/search/?q=bartola").content.decode()
    assert f'href="/people/{party.pk}/"' in page
    assert "<h1>People</h1>" in page


def test_the_page_of_a_party_shows_what_they_own_and_what_they_brought(counter, make):
    party = make.party(name="Bartola Kwe")
    own, brought = make.case(owner=party), make.case(bearer=party)
    page = counter.get(f"/people/{party.pk}/").content.decode()
    assert str(own) in page
    assert str(brought) in page.split("Brought for others")[1]


def test_the_page_asks_as_many_questions_for_many_cases(counter, make, django_assert_max_num_queries):
    party = make.party()
    for _ in range(6):
        make.case(owner=party)
    with django_assert_max_num_queries(14):
        counter.get(f"/people/{party.pk}/")


def told(**differs):
    return {"name": "Bartola Kwe", "phone": "0118 496 0743", "email": "", "company": "", "address": ""} | differs


def test_what_is_known_can_be_corrected_and_emptied(counter, make):
    party = make.party(email="old@example.com")
    assert counter.post(f"/people/{party.pk}/edit/", told(name="李雷")).status_code == 303
    party.refresh_from_db()
    assert (party.name, party.email, party.phone) == ("李雷", "", "+441184960743")


def test_somebody_nobody_can_reach_is_refused_beside_the_field(counter, make):
    party = make.party()
    response = counter.post(f"/people/{party.pk}/edit/", told(phone="", name=" "))
    assert response.status_code == 422
    page = response.content.decode()
    assert "Say how to reach them" in page
    assert "Say who it is" in page


def test_monthly_billing_is_for_a_manager_to_grant(counter, client_as, make):
    party = make.party()
    assert counter.post(f"/people/{party.pk}/edit/", told(on_account="on")).status_code == 422
    assert client_as(Role.MANAGER).post(f"/people/{party.pk}/edit/", told(on_account="on")).status_code == 303
    assert Party.objects.get(pk=party.pk).on_account


def test_an_engineer_looks_and_does_not_edit(client_as, make):
    party = make.party()
    engineer = client_as(Role.ENGINEER)
    assert engineer.get(f"/people/{party.pk}/").status_code == 200
    assert engineer.post(f"/people/{party.pk}/edit/", told()).status_code == 403
