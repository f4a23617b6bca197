"""Two presses of the same form at the same moment make one record."""

from __future__ import annotations

import itertools
import threading
from typing import Any
from uuid import UUID

import pytest
from django.test import Client
from django.urls import reverse

from labcases.core.actions import SentBefore, once
from labcases.core.models import OneTimeKey
from labcases.lab.models import Place

KEY = UUID("8a8a8a8a-0000-4000-8000-000000000001")
numbers = itertools.count(1)


def add() -> str:
    """A verb that no constraint of its own would stop from being done twice."""
    n = next(numbers)
    return f"/places/{Place.objects.create(name=f'Shelf {n}', code=f'S{n:05d}').pk}/"


def test_looking_first_and_acting_then_would_make_two(at_once) -> None:
    """The control: without the key both see an empty shelf, and both act."""
    looked = threading.Barrier(2, timeout=10)

    def naive() -> str:
        found = Place.objects.exists()
        looked.wait()
        return "" if found else add()

    at_once(naive, naive)
    assert Place.objects.count() == 2


@pytest.mark.parametrize("presses", [2, 5])
def test_presses_at_once_make_one_record_and_all_learn_its_address(at_once, make, presses: int) -> None:
    person = make.staff()
    results = at_once(*[lambda: once(key=KEY, person=person, verb="add", content="same", act=add)] * presses)
    assert Place.objects.count() == 1
    assert set(results) == {OneTimeKey.objects.get().result}


def test_of_two_contents_under_one_key_the_slower_is_told(at_once, make) -> None:
    person = make.staff()
    results = at_once(
        *[lambda c=content: once(key=KEY, person=person, verb="add", content=c, act=add) for content in ("one", "two")]
    )
    assert Place.objects.count() == 1
    assert [type(result) for result in results].count(SentBefore) == 1


def test_two_clicks_on_a_real_button_make_one_place_and_both_land_on_its_page(at_once, make) -> None:
    sent: dict[str, Any] = {"name": "Shelf Q", "kind": "shelf", "once": str(KEY), "in_use": "on"}
    person = make.staff()
    clients = [Client(), Client()]
    for client in clients:
        client.force_login(person)
    answers = at_once(*[lambda c=client: c.post(reverse("custody:add-place"), sent) for client in clients])
    assert [answer.status_code for answer in answers] == [303, 303]
    assert answers[0].url == answers[1].url
    assert Place.objects.count() == 1
