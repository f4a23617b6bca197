"""The page that makes one record of two."""

from __future__ import annotations

import pytest

from labcases.lab.roles import Role
from labcases.people.models import Party


@pytest.fixture
def counter(make, client_as):
    make.profile(country="GB")
    return client_as(Role.COUNTER)


@pytest.fixture
def two(make):
    return make.party(name="Bartola Kwe", phone="+441184960743", email=""), make.party(
        name="B. Kwe", phone="+441184960743", email="kwe@example.com"
    )


def test_a_party_page_names_likely_twins(counter, two):
    page = counter.get(f"/people/{two[0].pk}/").content.decode()
    assert f'href="/people/{two[0].pk}/merge/?with={two[1].pk}"' in page


def test_the_two_stand_side_by_side_and_only_what_differs_is_asked(counter, two):
    page = counter.get(f"/people/{two[0].pk}/merge/?with={two[1].pk}").content.decode()
    assert page.count("0118 496 0743") == 2
    assert 'name="email"' in page
    assert 'name="phone"' not in page


def test_merged_by_the_page_and_parted_by_the_page(counter, two):
    kept, gone = two
    address = f"/people/{kept.pk}/merge/?with={gone.pk}"
    answer = counter.post(address, {"name": "kept", "email": "gone", "because": "same card"})
    assert (answer.status_code, answer["Location"]) == (303, f"/people/{kept.pk}/")
    assert "has gone into that of" in counter.get(f"/people/{gone.pk}/").content.decode()
    assert "Merged into this" in counter.get(f"/people/{kept.pk}/").content.decode()
    assert counter.post(f"/people/{gone.pk}/part/", {"because": "two people"}).status_code == 303
    assert Party.objects.standing().count() == 2


def test_without_a_word_how_it_is_known_nothing_is_merged(counter, two):
    answer = counter.post(f"/people/{two[0].pk}/merge/?with={two[1].pk}", {"name": "kept", "email": "gone"})
    assert answer.status_code == 422
    assert "Say how you know" in answer.content.decode()
    assert Party.objects.standing().count() == 2


def test_the_other_record_is_found_by_name(counter, make, two):
    other = make.party(name="Pia Lund")
    page = counter.get(f"/people/{two[0].pk}/merge/?q=lund").content.decode()
    assert f'href="?with={other.pk}"' in page


@pytest.mark.parametrize("typed", ["", "x", "0", "9" * 30])
def test_who_names_nobody_is_asked_whom(counter, two, typed):
    answer = counter.get(f"/people/{two[0].pk}/merge/?with={typed}")
    assert answer.status_code in (200, 404)


def test_a_merged_record_leads_to_where_it_went(counter, two):
    kept, gone = two
    counter.post(f"/people/{kept.pk}/merge/?with={gone.pk}", {"name": "kept", "email": "gone", "because": "same"})
    assert counter.get(f"/people/{gone.pk}/merge/")["Location"] == f"/people/{gone.pk}/"
    page = counter.get(f"/counter/take-in/?party={gone.pk}", follow=True).content.decode()
    assert f'name="owner-known" value="{kept.pk}"' in page


def test_the_counter_says_that_two_have_one_number(counter, two):
    page = counter.get("/people/search/?as=owner&owner-phone=0743", headers={"HX-Request": "true"}).content.decode()
    assert "have one phone number" in page
