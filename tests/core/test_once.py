"""Pressing twice does a thing once."""

from __future__ import annotations

from uuid import UUID

import pytest
from django.db import IntegrityError
from django.http import QueryDict
from django.urls import reverse

from labcases.core.actions import SentBefore, fingerprint, once
from labcases.core.models import OneTimeKey
from labcases.core.refused import Refused

KEY = UUID("8a8a8a8a-0000-4000-8000-000000000001")


class Door:
    """Counts how often it was gone through."""

    def __init__(self) -> None:
        self.times = 0

    def __call__(self) -> str:
        self.times += 1
        return f"/made/{self.times}/"


@pytest.fixture
def door() -> Door:
    return Door()


@pytest.fixture
def sent(make):
    return {"key": KEY, "person": make.staff(), "verb": "log-drive", "content": "a" * 64}


def test_the_same_key_and_content_give_the_same_result(door: Door, sent) -> None:
    assert once(**sent, act=door) == once(**sent, act=door) == "/made/1/"
    assert door.times == 1


def test_the_same_key_with_other_content_is_said(door: Door, sent) -> None:
    once(**sent, act=door)
    with pytest.raises(SentBefore) as refused:
        once(**sent | {"content": "b" * 64}, act=door)
    assert len(refused.value.sentences()) == 3
    assert door.times == 1


@pytest.mark.parametrize("other", ["key", "person", "verb"])
def test_a_key_counts_for_one_person_and_one_verb(other: str, door: Door, sent, make) -> None:
    once(**sent, act=door)
    others = {"key": UUID(int=5), "person": make.staff(), "verb": "quote"}
    assert once(**sent | {other: others[other]}, act=door) == "/made/2/"


def test_a_refused_press_frees_the_key(door: Door, sent) -> None:
    def refuse() -> str:
        raise Refused("Not yet.")

    with pytest.raises(Refused, match="Not yet"):
        once(**sent, act=refuse)
    assert once(**sent, act=door) == "/made/1/"


def test_a_constraint_that_speaks_inside_is_no_double_press(sent) -> None:
    def clash() -> str:
        raise IntegrityError("some other constraint")

    with pytest.raises(IntegrityError, match="some other"):
        once(**sent, act=clash)
    assert not OneTimeKey.objects.exists()


def test_the_fingerprint_reads_over_the_key_the_token_and_the_order() -> None:
    first = QueryDict("a=1&b=2&b=3&once=x&csrfmiddlewaretoken=y")
    assert fingerprint(first) == fingerprint(QueryDict("b=2&b=3&once=z&a=1"))
    assert fingerprint(first) != fingerprint(QueryDict("a=1&b=3&b=2"))


def test_a_second_press_whose_own_checks_now_fail_still_finds_the_first_ones_result(client_as):
    """The slower press is only looked at when its name is taken, by the faster one: that is no mistake of anybody's."""
    browser, address = client_as(), reverse("custody:add-place")
    form = {"name": "Shelf Q", "kind": "shelf", "once": str(KEY), "in_use": "on"}
    first, second = browser.post(address, form), browser.post(address, form)
    assert (first.status_code, second.status_code) == (303, 303)
    assert first.url == second.url
    other = browser.post(address, form | {"once": "8a8a8a8a-0000-4000-8000-000000000002"})
    assert other.status_code == 422
