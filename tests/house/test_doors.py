"""Every address lets in those it should and nobody else: strangers, and each role, by the marks on the views."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from labcases.demo.urls import pages as demo_pages
from labcases.lab.roles import PEOPLE, Right, Role, rights_of
from tests.house.addresses import Address, address_of, addresses

# Pages that need no log-in, and why.
FOR_STRANGERS = {
    "lab:log-in": "the door itself",
    "lab:log-out": "whoever is out already stays out",
    "custody:public-key": "whoever holds a paper of the lab checks it without asking the lab",
    "custody:check": "the page with which they check it",
    "custody:verifier": "the program with which they check it",
    "api:door": "a program comes in by the token of its bench computer, tests/api looks at who does not",
    "api:openapi": "whoever writes such a program reads it first; it says nothing of this lab",
    "ops:set-up": "before there is anybody; its address holds a one-time token",
}
# Views that ask for more than one mark can say (one of two rights, or several at once): the roles that get in alone.
COUNTER, ENGINEER, MANAGER, AUDITOR = PEOPLE
EITHER = {COUNTER, ENGINEER, MANAGER}
NARROWER: dict[str, set[Role]] = {
    "cases:edit-item": EITHER,
    "cases:end-item": EITHER,
    "cases:label": EITHER,
    "cases:put-secret": EITHER,
    "cases:erase-secret": EITHER,
    "cases:hold": {COUNTER, MANAGER},
    "handover:while-you-wait": set(),  # one person does the whole of it: only somebody with several roles can
}
ALL = addresses()
BEHIND_THE_DOOR = [address for address in ALL if not address.open_to_strangers]


def sees(role: Role, address: Address) -> bool:
    return address.right in rights_of([role]) and role in NARROWER.get(address.name, PEOPLE)


def presses(role: Role, address: Address) -> bool:
    return address.to_press in rights_of([role]) and role in NARROWER.get(address.name, PEOPLE)


def test_the_guard_sees_the_addresses() -> None:
    assert len(ALL) > 90
    assert len({address.name for address in ALL}) == len(ALL)
    assert sum(not sees(role, address) for address in BEHIND_THE_DOOR for role in PEOPLE) > 80


def test_only_these_are_open_to_strangers() -> None:
    assert {address.name for address in ALL if address.open_to_strangers} == set(FOR_STRANGERS)


@pytest.mark.parametrize("address", BEHIND_THE_DOOR + [address_of(page, ("demo",)) for page in demo_pages], ids=str)
def test_every_view_says_which_right_it_needs(address: Address) -> None:
    assert isinstance(address.right, Right)
    assert isinstance(address.to_press, Right)


@pytest.mark.parametrize("address", BEHIND_THE_DOOR, ids=str)
def test_a_stranger_is_sent_to_the_door(address: Address, db: None) -> None:
    where = address.somewhere()
    for answer in (Client().get(where), Client().post(where)):
        assert answer.status_code == 302
        assert answer.url.startswith(reverse("lab:log-in"))


@pytest.mark.parametrize("role", PEOPLE)
@pytest.mark.parametrize("address", BEHIND_THE_DOOR, ids=str)
def test_a_role_sees_and_presses_what_it_may_and_nothing_else(address: Address, role: Role, client_as) -> None:
    client = client_as(role)
    where = address.somewhere()
    seen = client.get(where).status_code
    assert (seen == 403) == (not sees(role, address) and seen != 405)
    if presses(role, address):
        return  # whether it then does what it should is for the room's own tests
    pressed = client.post(where).status_code
    assert pressed in (403, 405)
    assert 403 in (seen, pressed) or sees(role, address)


def test_the_narrower_doors_are_still_there() -> None:
    assert set(NARROWER) <= {address.name for address in ALL}


@pytest.mark.parametrize("address", [a for a in BEHIND_THE_DOOR if a.name.startswith("lab:")], ids=str)
def test_somebody_without_any_role_sees_nothing(address: Address, make) -> None:
    client = Client()
    client.force_login(make.staff(roles=[]))
    assert 403 in {client.get(address.somewhere()).status_code, client.post(address.somewhere()).status_code}
