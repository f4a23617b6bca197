"""Custody in a browser: scanned with a hand scanner and keys alone, and with a phone in the dark that takes photos.

Each state of the page is judged by axe after WCAG 2.2, A and AA (https://www.w3.org/TR/WCAG22/).
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import segno
from django.conf import settings
from django.test import Client
from playwright.sync_api import Page, expect

from labcases.core import codes
from labcases.custody.models import Break, CustodyRules, Event, EventText, Thing
from labcases.custody.scanning.actions import set_pin
from labcases.lab.models import Staff
from labcases.lab.roles import Right, Role
from tests.walks.judging import wrong_with

SCAN = "/custody/scan/"
MOST_TABS = 40


@pytest.fixture
def walk(lab: Any, page: Page) -> Callable[[Staff, str], None]:
    """Open an address as somebody of the lab."""

    def to(person: Staff, path: str) -> None:
        client, name = Client(), settings.SESSION_COOKIE_NAME
        client.force_login(person)
        page.context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": lab.url}])
        page.goto(f"{lab.url}{path}")

    return to


@pytest.fixture
def sal(lab: Any) -> Staff:
    return Staff.objects.get(login="sal")


@pytest.fixture
def wren(lab: Any, make: Any) -> Staff:
    """A colleague with a PIN, in a lab in which both sides confirm."""
    person: Staff = make.staff(roles=[Role.ENGINEER], name="Wren Halloran")
    set_pin(pin="2580", by=person.acting(Right.MOVE), happened=person.joined)
    CustodyRules.objects.create(pk=1, both_confirm=True)
    return person


def code_of(row: Any) -> str:
    return row.badge if isinstance(row, Staff) else str(row.code)


def scan(page: Page, *rows: Any) -> None:
    """As a hand scanner does it: all at once, then Enter; wherever the focus is."""
    for row in rows:
        page.keyboard.type(codes.symbol(code_of(row)), delay=0)
        page.keyboard.press("Enter")


def said(page: Page, sentence: str) -> None:
    expect(page.locator("#notices")).to_contain_text(sentence)


def where(*things: Thing) -> set[str]:
    rows = Thing.objects.with_whereabouts().filter(pk__in=[thing.pk for thing in things])
    return {str(thing.whereabouts) for thing in rows}


def tab_to(page: Page, name: str) -> None:
    """Go on with the Tab key until this button has the focus."""
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent.trim()") == name:
            return
    raise AssertionError(f"No way to “{name}” by the Tab key.")


def test_custody_is_scanned_with_a_scanner_and_keys_alone(
    walk: Any, page: Page, make: Any, sal: Staff, wren: Staff
) -> None:
    first, second, third = things = [item.thing for item in make.case(items=3).items.all()]
    shelf, safe = make.place(name="Shelf A1"), make.place(name="Safe")
    walk(sal, SCAN)
    assert wrong_with(page) == []

    scan(page, first, shelf, shelf)  # a thing, a place, and that once more
    said(page, "1 thing put in Shelf A1.")

    scan(page, second, third, shelf, shelf)  # many in one go
    said(page, "2 things put in Shelf A1.")
    assert where(*things) == {"Shelf A1"}

    scan(page, shelf)  # a shelf and all that is on it
    expect(page.locator("#understood")).to_contain_text("3 things")
    scan(page, safe)
    expect(page.locator("#understood")).to_contain_text("3 things → Safe")
    assert wrong_with(page) == []
    tab_to(page, "Record it")
    page.keyboard.press("Enter")
    said(page, "3 things put in Safe.")

    scan(page, first, wren)  # to a colleague, who confirms here
    expect(page.get_by_label("PIN of who takes it")).to_be_focused()
    assert wrong_with(page) == []
    page.keyboard.type("1357")
    page.keyboard.press("Enter")
    expect(page.locator("#understood")).to_contain_text("This is not the PIN of Wren Halloran.")
    assert where(first) == {"Safe"}
    page.get_by_label("PIN of who takes it").focus()
    page.keyboard.type("2580")
    page.keyboard.press("Enter")
    said(page, "1 thing handed to Wren Halloran.")

    assert where(first) == {"Wren Halloran"}
    assert EventText.objects.get(field="confirmed").text == "Wren Halloran, with a PIN"
    kinds = Event.objects.filter(thing_code__in=[thing.code for thing in things]).values_list("kind", flat=True)
    assert [kinds.filter(kind=kind).count() for kind in ("moved", "handed-to")] == [6, 1]
    assert not Break.objects.exists()


def test_a_phone_takes_photos_of_the_codes_and_a_colleague_confirms_on_their_own(
    walk: Any, page: Page, make: Any, sal: Staff, wren: Staff, tmp_path: Path
) -> None:
    things = [item.thing for item in make.case(items=2).items.all()]
    page.set_viewport_size({"width": 390, "height": 844})
    page.emulate_media(color_scheme="dark")
    walk(sal, SCAN)
    assert wrong_with(page) == []
    for n, row in enumerate([*things, wren]):
        photo = tmp_path / f"{n}.png"
        segno.make(codes.symbol(code_of(row))).save(str(photo), scale=6)
        page.set_input_files("[data-read-code]", photo)
        expect(page.locator("#understood")).to_contain_text(str(row))
    assert wrong_with(page) == []
    page.get_by_role("button", name="Record it").click()
    said(page, "Wren Halloran is asked to take 2 things. Until then nothing has moved.")
    assert wrong_with(page) == []
    assert "Wren Halloran" not in where(*things)

    walk(wren, "/custody/")
    page.get_by_role("link", name="Look at them").click()
    assert wrong_with(page) == []
    page.get_by_role("button", name="I have them: take them over").click()
    expect(page.get_by_text("taken", exact=True)).to_be_visible()
    assert where(*things) == {"Wren Halloran"}
    assert not Break.objects.exists()
