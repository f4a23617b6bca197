"""Drafts: kept as they are typed, finished by anyone at the counter, a case once."""

from __future__ import annotations

import pytest
from django.test import Client

from labcases.cases.models import Case, Draft
from labcases.lab.roles import Role
from tests.cases.filled import TAKE_IN, drawn, filled, items


@pytest.fixture
def lab(make):
    make.profile(country="GB")
    make.terms()


@pytest.fixture
def ines(lab, client_as):
    return client_as(Role.COUNTER)


@pytest.fixture
def bram(lab, client_as):
    return client_as(Role.COUNTER)


def keep(client: Client, typed, **now):
    return client.post(f"/counter/drafts/{typed['once']}/", typed | now)


def opened(client: Client, typed):
    return client.get(f"{TAKE_IN}?draft={typed['once']}")


def test_what_is_typed_comes_back_after_a_reload(ines):
    two = items({"kind": "disk25"}, {"kind": "stick"})
    typed = filled(owner__name="Ὀδυσσεύς", told__tried=["software", "freezer"], **two)
    keep(ines, typed)
    form = opened(ines, typed).context["form"]
    assert form.owner["name"].value() == "Ὀδυσσεύς"
    assert [item.kind for item in form.new_items()] == ["disk25", "stick"]
    assert form.told["tried"].value() == ["software", "freezer"]


def test_a_draft_is_shown_without_being_judged(ines):
    typed = filled(owner__name="", owner__phone="12", **{"item-0-kind": ""})
    keep(ines, typed)
    page = opened(ines, typed)
    assert page.status_code == 200
    assert page.context["wrongs"] == []


def test_a_signature_is_not_kept_in_a_draft(ines):
    typed = filled(**{"terms-how": "screen", "terms-signature": drawn()})
    keep(ines, typed)
    assert "signature" not in Draft.objects.get().typed


def test_a_draft_too_long_to_keep_says_so(ines):
    response = keep(ines, filled(told__story="x" * 210_000))
    assert response.status_code == 409
    assert not Draft.objects.exists()


def test_the_counter_lists_drafts_and_a_colleague_goes_on_with_one(ines, bram):
    typed = filled(owner__name="Bartola Kwe")
    keep(ines, typed)
    assert "Bartola Kwe" in bram.get("/counter/").content.decode()
    response = bram.post(TAKE_IN, typed | {"version": "1"})
    assert response.status_code == 303
    assert Case.objects.get().by.name == Draft.objects.get().person.name
    assert "Bartola Kwe" not in Draft.objects.get().typed


def test_two_clerks_in_one_draft_are_told(ines, bram):
    typed = filled(owner__name="Bartola Kwe")
    keep(ines, typed)
    keep(bram, typed, version="1", **{"owner-name": "Bartola K."})
    late = keep(ines, typed, version="1", **{"owner-name": "B. Kwe"})
    assert "changed this draft at" in late.content.decode()
    assert "Bartola+K." in Draft.objects.get().typed


def test_a_clerk_who_saw_both_may_keep_the_own_words(ines, bram):
    typed = filled()
    keep(ines, typed)
    keep(bram, typed, version="1", **{"owner-name": "Theirs"})
    keep(ines, typed, version="1", mine="yes", **{"owner-name": "Mine"})
    assert "owner-name=Mine" in Draft.objects.get().typed
    assert Draft.objects.get().version == 3


def test_taking_in_an_old_view_of_a_draft_is_said_first(ines, bram):
    typed = filled()
    keep(ines, typed)
    keep(bram, typed, version="1", **{"owner-name": "Theirs"})
    response = ines.post(TAKE_IN, typed | {"version": "1"})
    assert response.status_code == 422
    assert "changed this draft while you had it open" in response.content.decode()
    assert 'name="version" form="take-in" value="2"' in response.content.decode()
    assert not Case.objects.exists()


def test_pressing_twice_makes_one_case(ines):
    typed = filled()
    first, second = ines.post(TAKE_IN, typed), ines.post(TAKE_IN, typed)
    assert first.status_code == second.status_code == 303
    assert first.url == second.url
    assert Case.objects.count() == 1


def test_a_draft_that_a_colleague_took_in_is_not_taken_in_again(ines, bram):
    typed = filled()
    keep(ines, typed)
    bram.post(TAKE_IN, typed | {"version": "1"})
    response = ines.post(TAKE_IN, typed | {"version": "1", "owner-name": "Kept Name"})
    assert response.status_code == 422
    assert f"case {Case.objects.get()} already" in response.content.decode()
    assert "Kept Name" in response.content.decode()
    assert Case.objects.count() == 1


def test_going_on_typing_in_a_draft_that_was_taken_in_is_told(ines, bram):
    typed = filled()
    keep(ines, typed)
    bram.post(TAKE_IN, typed | {"version": "1"})
    assert "took this in" in keep(ines, typed, version="1").content.decode()
    assert Draft.objects.get().typed == ""


def test_the_address_of_a_draft_that_became_a_case_leads_to_the_case(ines):
    typed = filled()
    ines.post(TAKE_IN, typed)
    assert opened(ines, typed).url == Case.objects.get().get_absolute_url()


def test_a_draft_nobody_will_finish_is_thrown_away(ines):
    typed = filled()
    keep(ines, typed)
    assert ines.post(f"/counter/drafts/{typed['once']}/drop/").status_code == 303
    assert not Draft.objects.exists()


def test_what_became_a_case_cannot_be_thrown_away(ines):
    typed = filled()
    ines.post(TAKE_IN, typed)
    ines.post(f"/counter/drafts/{typed['once']}/drop/")
    assert Draft.objects.get().case == Case.objects.get()


def test_drafts_are_for_the_counter_only(ines, client_as):
    typed = filled()
    assert keep(client_as(Role.ENGINEER), typed).status_code == 403
    assert keep(client_as(Role.AUDITOR), typed).status_code == 403
    assert not Draft.objects.exists()


def test_a_customer_page_and_an_enquiry_start_a_filled_form(ines, make, noon):
    from labcases.cases.actions import enquire

    party = make.party(name="Bartola Kwe")
    page = ines.get(f"{TAKE_IN}?party={party.pk}", follow=True)
    assert page.context["form"].owner["name"].value() == "Bartola Kwe"
    who = {"name": "Pia Lund", "reach": "pia@example.com"}
    asked = enquire(by=make.everyone(), happened=noon, kind="stick", asked="Lost files", **who)
    form = ines.get(f"{TAKE_IN}?enquiry={asked.pk}", follow=True).context["form"]
    assert (form.owner["email"].value(), form.item_forms()[0]["kind"].value()) == ("pia@example.com", "stick")


def test_an_enquiry_that_came_in_becomes_the_case(ines, make, noon):
    from labcases.cases.actions import enquire

    asked = enquire(by=make.everyone(), happened=noon, name="Pia Lund", reach="pia@example.com", asked="Lost files")
    ines.post(TAKE_IN, filled(enquiry=str(asked.pk)))
    asked.refresh_from_db()
    assert asked.case == Case.objects.get()


def test_a_lost_log_in_brings_everything_back(lab, make):
    person = make.staff(roles=[Role.COUNTER], login="ines")
    client, typed = Client(), filled(owner__name="Bartola Kwe", **{"told-wanted": "Letters"})
    lost = client.post(f"{TAKE_IN}?draft={typed['once']}", typed)
    assert lost.status_code == 302
    client.post(lost.url, {"login": person.login, "password": "correct horse battery"})
    page = opened(client, typed)
    assert page.context["form"].owner["name"].value() == "Bartola Kwe"
    assert page.context["form"].told["wanted"].value() == "Letters"
    assert not Case.objects.exists()


def test_what_the_draft_would_have_kept_after_a_lost_log_in_comes_back_too(lab, make):
    person = make.staff(roles=[Role.COUNTER], login="ines")
    client, typed = Client(), filled(owner__name="Bartola Kwe")
    keep(client, typed)
    client.post("/log-in/", {"login": person.login, "password": "correct horse battery"})
    assert opened(client, typed).context["form"].owner["name"].value() == "Bartola Kwe"
