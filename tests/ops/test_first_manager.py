"""The one-time address of a new lab."""

from __future__ import annotations

import pytest
from django.conf import settings
from django.urls import reverse

from labcases.lab.models import Profile, Staff
from labcases.lab.roles import Role
from labcases.ops import actions, first_manager

WORDS = {
    "lab": "Harbour Lab",
    "name": "Ada Example",
    "login": "Ada",
    "password": "lantern-orbit-velvet",
    "again": "lantern-orbit-velvet",
}


@pytest.fixture
def address(tmp_path, monkeypatch):
    monkeypatch.setattr(settings, "KEY_DIR", tmp_path / "keys")
    return reverse("ops:set-up", args=[first_manager.token_for(tmp_path / "keys")])


def test_the_secret_is_made_once_and_is_for_its_owner_only(tmp_path):
    token = first_manager.token_for(tmp_path / "keys")
    assert first_manager.token_for(tmp_path / "keys") == token
    assert (tmp_path / "keys" / first_manager.NAME).stat().st_mode & 0o777 == 0o600


def test_only_the_right_secret_opens(tmp_path):
    token = first_manager.token_for(tmp_path)
    assert first_manager.is_right(tmp_path, token)
    assert not first_manager.is_right(tmp_path, token[:-1])
    assert not first_manager.is_right(tmp_path, "")


def test_a_spent_secret_opens_nothing(tmp_path):
    token = first_manager.token_for(tmp_path)
    with first_manager.spending(tmp_path) as won:
        assert won
    assert not first_manager.is_right(tmp_path, token)


def test_of_two_at_once_only_one_spends_it(tmp_path):
    first_manager.token_for(tmp_path)
    with first_manager.spending(tmp_path) as one, first_manager.spending(tmp_path) as two:
        assert (one, two) == (True, False)


def test_a_secret_whose_use_failed_opens_again(tmp_path):
    token = first_manager.token_for(tmp_path)
    with pytest.raises(ZeroDivisionError), first_manager.spending(tmp_path):
        _ = 1 / 0
    assert first_manager.is_right(tmp_path, token)


@pytest.mark.django_db
def test_the_first_manager_names_the_lab_and_is_logged_in(client, address):
    answer = client.post(address, WORDS)
    person = Staff.objects.get()
    assert answer.status_code == 303
    assert (Profile.current().name, person.login, person.check_password(WORDS["password"])) == (
        "Harbour Lab",
        "ada",
        True,
    )
    assert person.roles == (Role.COUNTER, Role.ENGINEER, Role.MANAGER)
    assert client.session["_auth_user_id"] == str(person.pk)


@pytest.mark.django_db
def test_the_address_works_once(client, address):
    client.post(address, WORDS)
    again = client.post(address, WORDS | {"login": "eve"})
    assert again.status_code == 404
    assert Staff.objects.count() == 1


@pytest.mark.django_db
def test_a_wrong_address_says_what_to_do(client, address):
    answer = client.get(reverse("ops:set-up", args=["guessed"]))
    assert answer.status_code == 404
    assert "restart the server and open the address it prints" in answer.content.decode()


@pytest.mark.django_db
def test_a_lab_that_has_people_makes_no_first_manager(address):
    Staff.objects.create_user(login="bo", name="Bo Example", password="lantern-orbit-velvet", roles=[Role.COUNTER])
    token = first_manager.token_for(settings.KEY_DIR)
    with pytest.raises(actions.NoSetUp):
        actions.make_first_manager(
            key_dir=settings.KEY_DIR, token=token, lab="L", login="eve", name="Eve", password="lantern-orbit-velvet"
        )


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("password", "short", "too short"),
        ("again", "another-lantern", "The two passwords differ"),
        ("login", "", "is needed"),
        ("name", "x" * 201, "at most 200 characters"),
        ("lab", "\x00\x07", "is needed"),
    ],
)
def test_a_wrong_field_is_said_beside_it_and_nothing_is_made(client, address, field, typed, says):
    answer = client.post(address, WORDS | {field: typed})
    assert answer.status_code == 422
    assert says in str(answer.context["form"].errors[field])
    assert not Staff.objects.exists()
