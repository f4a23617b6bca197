"""What happens around every request: headers, refusals as pages, the door for parts of a page."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from labcases.core.middleware import POLICY, SayRefusals
from labcases.core.refused import NotAllowed, Refused
from labcases.lab.roles import Role

PAGES = ["lab:log-in", "docket:custody", "custody:things", "lab:lab"]


@pytest.mark.parametrize("name", PAGES)
def test_every_page_says_what_it_may_load_and_is_kept_by_no_cache(name: str, client_as) -> None:
    headers = client_as().get(reverse(name)).headers
    assert headers["Content-Security-Policy"] == POLICY
    assert headers["Cache-Control"] == "private, no-store"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "same-origin"


@pytest.mark.parametrize("loophole", ["unsafe-inline", "unsafe-eval", "http:", "https:", "*", "nonce-"])
def test_the_policy_has_no_loophole(loophole: str) -> None:
    assert loophole not in POLICY


@pytest.mark.parametrize("address", ["/nowhere/", "/custody/things/X/"])
def test_an_error_page_has_the_policy_too(address: str, client_as) -> None:
    response = client_as().get(address)
    assert response.status_code == 404
    assert response.headers["Content-Security-Policy"] == POLICY


@pytest.mark.parametrize(("kind", "status"), [(Refused, 409), (NotAllowed, 403)])
def test_a_refusal_becomes_a_page_that_says_what_why_and_how_to_mend_it(kind, status: int, rf) -> None:
    refused = kind("The part is taken.", why=["Ada took it.", "At noon."], mend="Choose another part.")
    page = SayRefusals(lambda request: None).process_exception(rf.get("/"), refused)  # type: ignore[arg-type,return-value]
    assert page is not None
    assert page.status_code == status
    for sentence in refused.sentences():
        assert sentence in page.content.decode()


def test_another_mistake_is_not_dressed_up_as_a_refusal(rf) -> None:
    assert SayRefusals(lambda request: None).process_exception(rf.get("/"), KeyError("x")) is None  # type: ignore[arg-type,return-value]


def test_a_missing_right_is_said_with_the_roles_one_has(client_as) -> None:
    page = client_as(Role.AUDITOR).get(reverse("lab:profile"))
    assert page.status_code == 403
    for words in ("do not let you keep the lab", "auditor", "Ask a colleague"):
        assert words in page.content.decode()


def test_a_stranger_is_sent_to_the_door_and_on_from_there(db) -> None:
    answer = Client().get(reverse("custody:things"), {"q": "a"})
    assert answer.status_code == 302
    assert answer.url == f"{reverse('lab:log-in')}?next=/custody/things/%3Fq%3Da"


def test_a_part_of_a_page_sends_the_whole_page_to_the_door(db) -> None:
    headers = {"HX-Request": "true", "HX-Current-URL": "http://testserver/custody/things/?q=a"}
    answer = Client().get(reverse("docket:find"), headers=headers)
    assert answer.headers["HX-Redirect"] == f"{reverse('lab:log-in')}?next=/custody/things/%3Fq%3Da"


def test_the_door_does_not_send_anybody_to_another_host(db) -> None:
    headers = {"HX-Request": "true", "HX-Current-URL": "http://elsewhere.test/x/"}
    answer = Client().get(reverse("docket:find"), headers=headers)
    assert answer.headers["HX-Redirect"] == f"{reverse('lab:log-in')}?next=/"
