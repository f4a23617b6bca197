"""The last step at the counter, in a browser: scan each label, sign, print; and a visit on one page."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from playwright.sync_api import Page, expect

from labcases.cases.models import Case
from labcases.core import codes
from labcases.handover.actions import due_back
from labcases.handover.models import Handover
from labcases.paper.models import Paper


@pytest.fixture
def visit(transactional_db: None, make: Any, live_server: Any, page: Page) -> Callable[[str], None]:
    """Open an address as somebody who holds every role."""
    make.profile(name="Quayside Media Lab")
    make.terms()
    client = Client()
    client.force_login(make.staff())
    name = settings.SESSION_COOKIE_NAME
    page.context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": live_server.url}])
    return lambda path: page.goto(f"{live_server.url}{path}")


def scan(page: Page, code: str) -> None:
    page.keyboard.type(codes.symbol(code), delay=0)
    page.keyboard.press("Enter")


def sign(page: Page) -> None:
    canvas = page.get_by_label("Sign here with a finger")
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    assert box
    page.mouse.move(box["x"] + 30, box["y"] + 90)
    page.mouse.down()
    for step in range(6):
        page.mouse.move(box["x"] + 60 + 40 * step, box["y"] + 40 + 50 * (step % 2))
    page.mouse.up()


def no_violation(page: Page) -> None:
    assert [wrong["id"] for wrong in Axe().run(page).response["violations"]] == []


def test_scanned_things_are_ticked_signed_for_and_reported(page: Page, visit: Any, make: Any) -> None:
    case = make.case(accessories=[("USB cable", 1)])
    medium = make.delivery(case.items.get())
    make.paid(make.worked(case))
    visit(f"/handover/{case}/")
    no_violation(page)
    for code in (*(thing.code for thing in due_back(case)), medium.thing.code):
        scan(page, code)
    expect(page.locator("[data-count-said]")).to_contain_text("Everything is counted.")
    scan(page, make.item().thing.code)
    expect(page.locator("#notices")).to_contain_text("is not among what is due back here")
    page.get_by_text("known in person").click()
    sign(page)
    page.get_by_role("button", name="Hand over").click()
    page.wait_for_url("**/report/")
    no_violation(page)
    made = Handover.objects.get()
    assert made.signed_how == "screen"
    assert [line.fate for line in made.lines.all()] == ["out"] * 3
    with page.expect_request("**/papers/*/"):
        page.get_by_role("button", name="Print handover report").click()
    assert Paper.objects.get().kind == "handover-report"


def test_a_visit_is_one_page(page: Page, visit: Any) -> None:
    visit("/handover/while-you-wait/")
    no_violation(page)
    for label, words in (
        ("Name", "Ada Marsh"),
        ("Phone", "0118 496 0232"),
        ("Wanted", "Photographs of Sunday"),
        ("Found", "Directory entries marked as deleted."),
        ("Done", "Entries read again."),
        ("Files", "312"),
        ("Files went onto", "the customer’s own stick"),
        ("Price, EUR", "45"),
    ):
        page.get_by_label(label).and_(page.locator("input, textarea")).first.fill(words)
    page.get_by_role("group", name="What happened").get_by_text("deleted", exact=True).click()
    page.get_by_role("group", name="Faults").get_by_text("deleted, formatted").click()
    page.get_by_role("group", name="They got it").get_by_text("whole").click()
    page.get_by_role("group", name="Paid").get_by_text("cash").click()
    sign(page)
    page.get_by_role("button", name="Take in, hand over").click()
    page.wait_for_url("**/report/")
    assert Case.objects.get().closed
