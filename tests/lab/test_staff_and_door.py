"""The door and those who come through it: log-in and its brake, roles, and a lab that keeps a manager."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from labcases.core.refused import NotAllowed
from labcases.lab import actions
from labcases.lab.models import Actor, FailedLogIn, Staff
from labcases.lab.roles import MAY, PEOPLE, Right, Role, rights_of, role_for
from tests.builders import PASSWORD

WRONG = "wrong horse battery"


def try_door(client: Client, login: str, password: str = PASSWORD, **typed):
    return client.post(reverse("lab:log-in"), {"login": login, "password": password} | typed)


def inside(client: Client) -> bool:
    return "_auth_user_id" in client.session


@pytest.fixture
def ada(make) -> Staff:
    return make.staff(login="ada", name="Ada Quill", roles=[Role.COUNTER])


# --- the door --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("login", ["ada", "ADA", "  Ada "])
def test_a_log_in_is_found_however_it_is_typed(client, ada, login):
    answer = try_door(client, login)
    assert answer.status_code == 303
    assert inside(client)


def test_a_password_is_checked_letter_by_letter(client, ada):
    answer = try_door(client, "ada", PASSWORD.upper())
    assert answer.status_code == 422
    assert "do not belong together" in answer.content.decode()
    assert PASSWORD.upper() not in answer.content.decode()
    assert not inside(client)


def test_a_log_in_that_is_none_is_answered_like_a_wrong_password(client, ada):
    known = try_door(client, "ada", WRONG).content.decode()
    unknown = try_door(client, "nobody", WRONG).content.decode()
    sentence = "This log-in and password do not belong together."
    assert sentence in known
    assert sentence in unknown


def test_after_six_wrong_passwords_the_right_one_has_to_wait(client, ada):
    for _ in range(6):
        assert "do not belong together" in try_door(client, "ada", WRONG).content.decode()
    answer = try_door(client, "ADA")
    assert "Too many wrong passwords" in answer.content.decode()
    assert not inside(client)


def test_five_wrong_passwords_are_forgiven_by_the_right_one(client, ada):
    for _ in range(5):
        try_door(client, "ada", WRONG)
    assert try_door(client, "ada").status_code == 303
    assert not FailedLogIn.objects.exists()


def test_the_brake_of_one_name_does_not_hold_another(client, ada, make):
    make.staff(login="brook")
    for _ in range(6):
        try_door(client, "ada", WRONG)
    assert try_door(client, "brook").status_code == 303


def test_the_brake_lets_go_after_a_quarter_of_an_hour(client, ada):
    for _ in range(6):
        try_door(client, "ada", WRONG)
    FailedLogIn.objects.update(at=timezone.now() - timedelta(minutes=16))
    assert try_door(client, "ada").status_code == 303


def test_guessing_many_names_from_one_address_is_slowed_down_too(client, ada):
    for number in range(24):
        try_door(client, f"guess{number}", WRONG)
    assert "Too many wrong passwords" in try_door(client, "ada").content.decode()
    assert try_door(Client(REMOTE_ADDR="192.0.2.7"), "ada").status_code == 303


def test_whoever_has_left_cannot_log_in(client, ada):
    Staff.objects.filter(pk=ada.pk).update(is_active=False)
    assert "do not belong together" in try_door(client, "ada").content.decode()


def test_whoever_leaves_is_out_at_once(client, ada):
    client.force_login(ada)
    assert client.get(reverse("docket:counter")).status_code == 200
    Staff.objects.filter(pk=ada.pk).update(is_active=False)
    assert client.get(reverse("docket:counter")).url.startswith(reverse("lab:log-in"))


def test_after_log_in_one_goes_where_one_was_going(client, ada):
    asked = client.get(reverse("docket:custody"))
    assert asked.url == f"{reverse('lab:log-in')}?next={reverse('docket:custody')}"
    assert try_door(client, "ada", next=reverse("docket:custody")).url == reverse("docket:custody")


@pytest.mark.parametrize(
    "elsewhere", ["https://lab.example.net/", "//lab.example.net/", "/\\lab.example.net", "javascript:alert(1)"]
)
def test_the_door_never_leads_out_of_the_lab(client, ada, elsewhere):
    assert try_door(client, "ada", next=elsewhere).url == reverse("docket:home")


def test_logging_out_takes_a_press_and_leads_to_the_door(client, ada):
    client.force_login(ada)
    assert client.get(reverse("lab:log-out")).status_code == 405
    assert client.post(reverse("lab:log-out")).url == reverse("lab:log-in")
    assert not inside(client)


def test_what_was_typed_when_the_log_in_was_lost_comes_back_filled_in(client, ada):
    """Nothing is done before it is sent again, and no password is held."""
    sent = {"name": "Orrin Vale", "asked": "It clicks.", "password": "secret words"}
    address = reverse("cases:enquire")
    assert client.post(address, sent).url.startswith(reverse("lab:log-in"))
    assert "secret" not in str(dict(client.session))
    try_door(client, "ada", next=address)
    page = client.get(address).content.decode()
    assert "Orrin Vale" in page
    assert "It clicks." in page
    assert "Orrin Vale" not in client.get(address).content.decode()


# --- roles -----------------------------------------------------------------------------------------------------------


def test_every_right_is_held_by_somebody_and_looking_by_all():
    assert set(MAY) == set(Right)
    assert all(MAY.values())
    assert set(MAY[Right.LOOK]) == set(PEOPLE)


def test_an_auditor_only_looks():
    assert rights_of([Role.AUDITOR]) == {Right.LOOK}


def test_nobody_holds_the_role_of_the_worker():
    assert Role.WORKER not in PEOPLE
    assert rights_of([Role.WORKER]) == frozenset()


def test_whoever_holds_several_roles_acts_in_the_one_that_fits(make):
    everyone = make.staff()
    assert everyone.acting(Right.EXAMINE).role == Role.ENGINEER
    assert everyone.acting(Right.TAKE_IN).role == Role.COUNTER
    assert role_for(Right.QUOTE, [Role.COUNTER, Role.ENGINEER]) is None


def test_a_right_that_is_not_held_is_said_with_what_to_do(ada):
    with pytest.raises(NotAllowed) as refused:
        ada.acting(Right.QUOTE)
    assert refused.value.what == "Your roles do not let you quote."
    assert "Ada Quill: counter" in refused.value.why[0]


def test_whoever_has_left_may_do_nothing(ada):
    ada.is_active = False
    with pytest.raises(NotAllowed):
        ada.acting(Right.LOOK)


def test_the_worker_may_act_and_is_no_person():
    worker = Actor.worker()
    worker.must(Right.TELL)
    assert (worker.staff, worker.ref, worker.name, worker.role) == (None, "", "Labcases", Role.WORKER)


# --- staff -----------------------------------------------------------------------------------------------------------


def test_a_manager_hires_somebody_who_can_then_log_in(make, client_as, client):
    sent = {"name": "Brook Lane", "login": "Brook", "password": "a long quiet sentence", "roles": ["engineer"]}
    answer = client_as(Role.MANAGER).post(reverse("lab:hire"), sent)
    assert answer.status_code == 303, answer.content.decode()
    assert Staff.objects.get(login="brook").roles == (Role.ENGINEER,)
    assert try_door(client, "brook", "a long quiet sentence").status_code == 303


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"password": ""}, "A new member of staff needs a password."),
        ({"password": "short"}, "at least 12 characters"),
        ({"password": "brooklane brook"}, "too similar"),
        ({"login": "ADA"}, "Somebody has this log-in already."),
        ({"roles": []}, "Roles is needed"),
        ({"roles": ["worker"]}, "worker"),
        ({"name": ""}, "Name is needed"),
    ],
)
def test_nobody_is_hired_with_something_missing(make, client_as, ada, wrong, said):
    sent = {"name": "Brook Lane", "login": "brooklane", "password": "a long quiet sentence", "roles": ["engineer"]}
    answer = client_as(Role.MANAGER).post(reverse("lab:hire"), sent | wrong)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Staff.objects.filter(name="Brook Lane").exists()


def change(make, person: Staff, **about) -> Staff:
    about = {"roles": list(person.roles), "name": person.name, "login": person.login} | about
    return actions.change_staff(person=person, by=Actor(person, Role.MANAGER), happened=timezone.now(), **about)


@pytest.mark.parametrize("about", [{"roles": ["engineer"]}, {"is_active": False}])
def test_the_last_manager_stays_one(make, about):
    only = make.staff(roles=[Role.MANAGER, Role.ENGINEER])
    with pytest.raises(actions.LastManager):
        change(make, only, **about)
    stored = Staff.objects.get(pk=only.pk)
    assert stored.is_active
    assert Role.MANAGER in stored.roles


def test_a_manager_who_has_left_does_not_count_as_one(make):
    only = make.staff(roles=[Role.MANAGER])
    Staff.objects.filter(pk=make.staff(roles=[Role.MANAGER]).pk).update(is_active=False)
    with pytest.raises(actions.LastManager):
        change(make, only, roles=["counter"])


def test_with_another_manager_there_one_may_stop_being_one(make):
    make.staff(roles=[Role.MANAGER])
    second = make.staff(roles=[Role.MANAGER])
    change(make, second, roles=["engineer", "counter"])
    assert Staff.objects.get(pk=second.pk).roles == (Role.COUNTER, Role.ENGINEER)


def test_the_page_says_that_the_last_manager_stays(make, client):
    only = make.staff(roles=[Role.MANAGER])
    client.force_login(only)
    sent = {"name": only.name, "login": only.login, "roles": ["counter"], "is_active": "on"}
    answer = client.post(reverse("lab:staff", args=[only.pk]), sent)
    assert answer.status_code == 422
    assert "no manager left who can log in" in answer.content.decode()


def test_an_empty_password_leaves_it_as_it_is_and_a_new_one_counts(make, client, client_as, ada):
    address, manager = reverse("lab:staff", args=[ada.pk]), client_as(Role.MANAGER)
    sent = {"name": "Ada Quill", "login": "ada", "roles": ["counter"], "is_active": "on"}
    assert manager.post(address, sent).status_code == 303
    assert try_door(client, "ada").status_code == 303
    assert manager.post(address, sent | {"password": "another quiet sentence"}).status_code == 303
    assert try_door(Client(), "ada").status_code == 422
    assert try_door(Client(), "ada", "another quiet sentence").status_code == 303


@pytest.mark.parametrize("role", [Role.COUNTER, Role.ENGINEER, Role.AUDITOR])
def test_only_a_manager_hires_and_changes(make, ada, role):
    by = make.actor(role)
    with pytest.raises(NotAllowed):
        actions.hire(by=by, happened=timezone.now(), login="x", name="X", password=PASSWORD, roles=[role])
    with pytest.raises(NotAllowed):
        actions.change_staff(person=ada, roles=["manager"], by=by, happened=timezone.now())
    assert Staff.objects.get(pk=ada.pk).roles == (Role.COUNTER,)
