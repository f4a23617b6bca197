"""Under which words somebody is found, kept as they change."""

from __future__ import annotations

import pytest

from labcases.people import actions, queries
from labcases.people.lookup import beginnings, words_of
from labcases.people.models import Party, PartyWord


def test_a_name_is_kept_without_its_accents_and_in_its_parts():
    assert {"zizkova", "o'dell", "o", "dell"} <= words_of("Žižkova O'Dell", "", "", "")


@pytest.mark.parametrize("typed", ["", "   ", "743", "+44"])
def test_what_says_too_little_begins_nothing(typed):
    assert beginnings(typed) == []


def test_somebody_renamed_is_found_by_the_new_name_only(make):
    party = make.party(name="Bartola Kwe", email="kwe@example.com")
    actions.remember(party=party, name="Pia Lund")
    assert queries.matching("bartola") == []
    assert [one.party for one in queries.matching("lund")] == [party]


def test_keeping_somebody_unchanged_writes_no_words(make, django_assert_max_num_queries):
    party = make.party(name="Bartola Kwe")
    before = list(PartyWord.objects.values_list("pk", flat=True))
    party.save()
    assert list(PartyWord.objects.values_list("pk", flat=True)) == before


def test_letters_that_mean_something_to_a_database_are_letters(make):
    make.party(name="Bartola Kwe")
    percent = make.party(name="100% Kwe_")
    assert [one.party for one in queries.matching("100%")] == [percent]
    assert queries.matching("%a") == []


def test_a_party_with_many_alike_words_stands_in_the_list_once(make):
    alike = make.party(name="Kalo Kalona Kalos", company="Kal Kala")
    other = make.party(name="Kalu")
    assert {one.party for one in queries.matching("kal")} == {alike, other}
    assert len(queries.matching("kal")) == 2


@pytest.mark.parametrize("typed", ["lun pi", "pia lund", "lund 0743", "pia@example.com", "PIA Lünd"])
def test_several_words_must_all_fit_in_any_order(make, typed):
    pia = make.party(name="Pia Lund", phone="+441184960743", email="pia@example.com")
    make.party(name="Pia Kwe", phone="+441184960744", email="kwe@example.com")
    make.party(name="Lunda Kwe", phone="+441184961743", email="kwe2@example.com")
    assert [one.party for one in queries.matching(typed)] == [pia]
    assert list(Party.objects.found_by(typed)) == [pia]
