"""Every page of the lab, at a desk in daylight or on a phone in the dark, judged by axe after WCAG 2.2, A and AA.

The rules are axe's own for the tags of WCAG 2.0, 2.1 and 2.2 (https://www.w3.org/TR/WCAG22/); reflow (1.4.10) is
looked at beside them: at 390 px nothing makes the page scroll sideways. The pages are made beforehand by Django's own
test client in a transaction that is taken back, and given to the browser by a server of their own. Pages of the counter
are those of a small lab and are seen both ways; the others are those of the invented lab of the demo, and each is seen
one way, the front pages both.
"""

from __future__ import annotations

import itertools
import zlib
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import pytest
from django.db import transaction
from django.test import Client
from playwright.sync_api import Page

from labcases.lab.models import Actor
from labcases.lab.roles import Role
from tests.builders import Make
from tests.house.addresses import Address, addresses
from tests.walks.full_lab import pages_of_full_lab
from tests.walks.furnished import furnish, pages_of
from tests.walks.served import AXE, AXE_PATH, Texts, served

pytestmark = pytest.mark.django_db  # so that there is a database; every test reads what was fetched once
STYLED = "[...document.styleSheets].length > 0 && getComputedStyle(document.body).fontFamily.includes('Hyper')"
PLACES = ["counter", "customers", "dockets"]
FURTHER = ["bench", "stockroom", "office", "custody", "lab"]
FRONTS = ["docket:bench", "docket:stockroom", "docket:office", "docket:custody"]
NO_PAGE = {
    **dict.fromkeys(("cases:draft", "cases:drop-draft", "cases:read-medium"), "only pressed; cases:take-in shows it"),
    **dict.fromkeys(("imports:leave", "imports:read-again", "updates:drop-wording"), "only pressed"),
    **dict.fromkeys(("updates:leave-unsent", "updates:try-again"), "only pressed; updates:message shows it"),
    **dict.fromkeys(("updates:read", "updates:change"), "stands only after something was typed and sent"),
    "imports:going": "a part of a page",
    "imports:refused": "a table",
    "cases:signed-paper-file": "a file",
}
NO_PAGE_FURTHER = {
    **dict.fromkeys(("lab:log-out", "custody:take", "custody:withdraw", "bench:take-files"), "only pressed"),
    **dict.fromkeys(
        ("bench:protocol-step-up", "bench:protocol-step-down", "bench:retire-protocol-step"), "only pressed"
    ),
    **dict.fromkeys(("bench:drop-protocol-draft", "bench:answer-identity", "bench:here"), "only pressed"),
    **dict.fromkeys(("lab:logo", "custody:photo-shown", "custody:photo-thumb", "custody:verifier"), "a file"),
    **dict.fromkeys(("custody:statement", "paper:show", "handover:receipt", "stock:consent-paper"), "a paper"),
    **dict.fromkeys(("stock:export-csv", "stock:export-xlsx", "bench:dump-file"), "a file"),
    **dict.fromkeys(("bench:files-original", "bench:coverage-file", "api:openapi"), "a file"),
    **dict.fromkeys(("bench:read-files", "bench:read-table"), "stands only after something was sent"),
    **dict.fromkeys(("custody:photos-done", "custody:withdraw-photo"), "only pressed; custody:photo shows it"),
    "docket:home": "leads to one's place",
    "docket:sheet": "a part of a page",
    "api:door": "answers programs",
    "ops:set-up": "closed as soon as anybody may log in",
}
WCAG = {
    "resultTypes": ["violations"],
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]},
    "rules": {"target-size": {"enabled": True}},
}


class Look(NamedTuple):
    """What a page is seen on, and in what light."""

    words: str
    width: int
    height: int
    scheme: Any


DESK = Look("at a desk in daylight", 1280, 900, "light")
PHONE = Look("on a phone in the dark", 390, 844, "dark")


@dataclass
class Pages:
    """What each address answers, and which addresses belong to which place."""

    site: str = ""
    texts: Texts = field(default_factory=dict)
    of_place: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    looks: dict[str, list[Look]] = field(default_factory=dict)
    without: list[str] = field(default_factory=list)


def place_of(address: Address) -> str:
    """Where at the counter this page stands; "" for a page of another place."""
    room = address.name.partition(":")[0]
    if room == "docket":
        return "dockets" if address.name == "docket:case" else "counter" if address.name == "docket:counter" else ""
    return {"cases": "counter", "people": "customers", "imports": "customers", "updates": "counter"}.get(room, "")


def further_place_of(address: Address) -> str:
    """Where this page stands; "" for a page of the counter."""
    room, _, name = address.name.partition(":")
    if place_of(address):
        return ""
    if room == "docket":
        return name if name in FURTHER else "lab"
    return {"stock": "stockroom", "handover": "office"}.get(room, room if room in FURTHER else "lab")


def looks_at(name: str) -> list[Look]:
    """Both for a front page, else one, always the same for one name and about as often either."""
    return [DESK, PHONE] if name in FRONTS else [(DESK, PHONE)[zlib.crc32(name.encode()) % 2]]


@contextmanager
def taken_back(blocker: Any) -> Iterator[None]:
    """In a transaction that never was; durable blocks may stand inside, as in Django's own tests."""
    whole = transaction.atomic()
    whole._from_testcase = True  # type: ignore[attr-defined]
    with blocker.unblock(), whole:
        yield
        transaction.set_rollback(True)


@pytest.fixture(scope="session")  # a module's would be made twice: tests with a browser are put before the others
def pages(django_db_setup: None, django_db_blocker: Any) -> Iterator[Pages]:
    """Every page of the counter of a furnished lab, fetched once as somebody who may see all of it."""
    make, client, found = Make(), Client(), Pages()
    with taken_back(django_db_blocker):
        person = make.staff(login="sal", name="Sal Oriel")
        client.force_login(person)
        furnish(make, Actor(person, Role.MANAGER))
        for address in filter(place_of, addresses()):
            most = 5 if address.name == "docket:case" else 1
            shown = dict(itertools.islice(pages_of(client, address), most))
            found.of_place[place_of(address)] += shown
            found.without += [] if shown else [address.name]
            found.texts |= {path: (answer.content, dict(answer.headers)) for path, answer in shown.items()}
    found.looks = {path: [DESK, PHONE] for path in found.texts}
    with served(found.texts) as found.site:
        yield found


@pytest.fixture(scope="session")  # a module's would be made twice: tests with a browser are put before the others
def further_pages(django_db_setup: None, django_db_blocker: Any) -> Iterator[Pages]:
    """A page of every other address, from the invented lab."""
    found, places = Pages(), {address.name: further_place_of(address) for address in addresses()}
    wanted = [name for name, place in places.items() if place]
    with taken_back(django_db_blocker):
        shown = pages_of_full_lab(wanted)
    for seen in shown:
        assert seen.page
        found.of_place[places[seen.name]].append(seen.address)
        found.looks[seen.address] = looks_at(seen.name)
        found.texts[seen.address] = (seen.page.html.encode(), seen.headers)
    found.without = sorted(set(wanted) - {seen.name for seen in shown})
    with served(found.texts) as found.site:
        yield found


def wrong_with(page: Page) -> list[str]:
    """What axe finds, and whether the page scrolls sideways."""
    if not page.evaluate("'axe' in window"):
        page.add_script_tag(**({"url": AXE_PATH} if page.url.startswith("http") else {"path": AXE}))
    found = page.evaluate("options => axe.run(document, options)", WCAG)["violations"]
    said = [f"{one['id']}: {one['nodes'][0]['html'][:160]}" for one in found]
    if page.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
        said.append("scrolls sideways")
    return said


def wrong_in(place: str, pages: Pages, page: Page) -> dict[str, list[str]]:
    """What is wrong with the pages of a place, by address and look."""
    wrong = {}
    for path in dict.fromkeys(pages.of_place[place]):
        for number, look in enumerate(pages.looks[path]):
            page.set_viewport_size({"width": look.width, "height": look.height})
            page.emulate_media(color_scheme=look.scheme)
            if number == 0:
                page.goto(pages.site + path)
                assert page.evaluate(STYLED), f"{path} came without its style sheets"
            wrong[f"{path} {look.words}"] = wrong_with(page)
    return {path: said for path, said in wrong.items() if said}


@pytest.mark.parametrize("place", PLACES)
def test_every_page_of_the_counter_is_accessible(place: str, pages: Pages, page: Page) -> None:
    assert pages.of_place[place]
    assert wrong_in(place, pages, page) == {}


@pytest.mark.parametrize("place", FURTHER)
def test_every_page_of_a_further_place_is_accessible(place: str, further_pages: Pages, page: Page) -> None:
    assert further_pages.of_place[place]
    assert wrong_in(place, further_pages, page) == {}


def test_the_further_pages_are_seen_about_as_often_either_way(further_pages: Pages) -> None:
    seen = [look for looks in further_pages.looks.values() for look in looks]
    assert min(seen.count(DESK), seen.count(PHONE)) > len(seen) // 3 > 40


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


def test_every_further_page_was_looked_at(further_pages: Pages) -> None:
    assert further_pages.without == sorted(NO_PAGE_FURTHER)
