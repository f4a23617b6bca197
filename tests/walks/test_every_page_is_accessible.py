"""Every page of the counter, at a desk in daylight and on a phone in the dark, judged by axe after WCAG 2.2, A and AA.

The rules are axe's own for the tags of WCAG 2.0, 2.1 and 2.2 (https://www.w3.org/TR/WCAG22/); reflow (1.4.10) is
looked at beside them: at 390 px nothing makes the page scroll sideways. The pages are made beforehand by Django's own
test client in a transaction that is taken back, and handed to the browser as if a server had sent them.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.contrib.staticfiles import finders
from django.db import transaction
from django.test import Client
from playwright.sync_api import Page, Route

from labcases.lab.models import Actor
from labcases.lab.roles import Role
from tests.builders import Make
from tests.house.addresses import Address, addresses
from tests.walks.furnished import furnish, pages_of

pytestmark = pytest.mark.django_db  # so that there is a database; every test reads what was fetched once
SITE = "http://lab.test"
STYLED = "[...document.styleSheets].length > 0 && getComputedStyle(document.body).fontFamily.includes('Hyper')"
PLACES = ["counter", "customers", "dockets"]
NO_PAGE = {
    **dict.fromkeys(("cases:draft", "cases:drop-draft", "cases:read-medium"), "only pressed; cases:take-in shows it"),
    **dict.fromkeys(("imports:leave", "imports:read-again", "updates:drop-wording"), "only pressed"),
    **dict.fromkeys(("updates:leave-unsent", "updates:try-again"), "only pressed; updates:message shows it"),
    **dict.fromkeys(("updates:read", "updates:change"), "stands only after something was typed and sent"),
    "imports:going": "a part of a page",
    "imports:refused": "a table",
    "cases:signed-paper-file": "a file",
}
WCAG = {
    "resultTypes": ["violations"],
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]},
    "rules": {"target-size": {"enabled": True}},
}


@dataclass
class Pages:
    """What each address answers, and which addresses belong to which place."""

    texts: dict[str, tuple[bytes, dict[str, str]]] = field(default_factory=dict)
    of_place: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    without: list[str] = field(default_factory=list)

    def answer(self, route: Route) -> None:
        asked = urlsplit(route.request.url)
        path = f"{asked.path}?{asked.query}" if asked.query else asked.path
        if path.startswith("/static/"):
            route.fulfill(path=str(finders.find(asked.path.removeprefix("/static/"))))
        elif path in self.texts:
            body, headers = self.texts[path]
            route.fulfill(body=body, headers=headers)
        else:
            route.fulfill(status=404, body="")


def place_of(address: Address) -> str:
    """Where at the counter this page stands; "" for a page of another place."""
    room = address.name.partition(":")[0]
    if room == "docket":
        return "dockets" if address.name == "docket:case" else "counter" if address.name == "docket:counter" else ""
    return {"cases": "counter", "people": "customers", "imports": "customers", "updates": "counter"}.get(room, "")


@pytest.fixture(scope="module")
def pages(django_db_setup: None, django_db_blocker: Any) -> Pages:
    """Every page of the counter of a furnished lab, fetched once as somebody who may see all of it."""
    whole = transaction.atomic()
    whole._from_testcase = True  # type: ignore[attr-defined] # durable blocks may stand inside, as in Django's own tests
    with django_db_blocker.unblock(), whole:
        make, client, found = Make(), Client(), Pages()
        person = make.staff(login="sal", name="Sal Oriel")
        client.force_login(person)
        furnish(make, Actor(person, Role.MANAGER))
        for address in filter(place_of, addresses()):
            most = 5 if address.name == "docket:case" else 1
            shown = dict(itertools.islice(pages_of(client, address), most))
            found.of_place[place_of(address)] += shown
            found.without += [] if shown else [address.name]
            found.texts |= {path: (answer.content, dict(answer.headers)) for path, answer in shown.items()}
        transaction.set_rollback(True)
    return found


def wrong_with(page: Page) -> list[str]:
    """What axe finds, and whether the page scrolls sideways."""
    found = Axe().run(page, options=WCAG).response["violations"]
    said = [f"{one['id']}: {one['nodes'][0]['html'][:160]}" for one in found]
    if page.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
        said.append("scrolls sideways")
    return said


@pytest.mark.parametrize("place", PLACES)
def test_every_page_of_a_place_is_accessible(place: str, pages: Pages, page: Page) -> None:
    page.route("**/*", pages.answer)
    assert pages.of_place[place]
    wrong = {}
    for path in dict.fromkeys(pages.of_place[place]):
        page.set_viewport_size({"width": 1280, "height": 900})
        page.emulate_media(color_scheme="light")
        page.goto(SITE + path)
        assert page.evaluate(STYLED), f"{path} came without its style sheets"
        wrong[path] = wrong_with(page)
        page.set_viewport_size({"width": 390, "height": 844})
        page.emulate_media(color_scheme="dark")
        wrong[f"{path} on a phone in the dark"] = wrong_with(page)
    assert {path: said for path, said in wrong.items() if said} == {}


def test_a_page_that_is_wrong_is_seen_to_be_wrong(page: Page) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    page.set_content(
        '<html lang="en"><title>A page</title><main><h1>Pale</h1><p style="color:#bbb;background:#fff">too pale</p>'
        '<div style="font-size:8px;line-height:8px"><a href="/a">a</a><br><a href="/b">b</a></div>'
        '<input><div style="width:600px">wide</div></main></html>'
    )
    assert [said.partition(":")[0] for said in wrong_with(page)] == [
        "color-contrast",
        "label",
        "target-size",
        "scrolls sideways",
    ]


def test_every_page_of_the_counter_was_looked_at(pages: Pages) -> None:
    assert sorted(pages.without) == sorted(NO_PAGE)
