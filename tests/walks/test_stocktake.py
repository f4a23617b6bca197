"""A stocktake in a browser: scans follow each other faster than they are counted, and what differs is answered."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from django.utils import timezone
from playwright.sync_api import Page, expect

from labcases.core import codes
from labcases.stock.models import Destination
from labcases.stock.takes.actions import begin_take


@pytest.fixture
def visit(transactional_db: None, make: Any, live_server: Any, page: Page) -> Callable[[str], None]:
    """Open an address as somebody who holds every role."""
    make.profile(name="Quayside Media Lab")
    client = Client()
    client.force_login(make.staff())
    name = settings.SESSION_COOKIE_NAME
    page.context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": live_server.url}])
    return lambda path: page.goto(f"{live_server.url}{path}")


def scan(page: Page, code: str) -> None:
    page.keyboard.type(codes.symbol(code), delay=0)
    page.keyboard.press("Enter")


def test_a_shelf_is_counted_by_scanning_and_what_differs_is_answered(
    page: Page, visit: Callable[[str], None], make: Any, look: Callable[..., None]
) -> None:
    first, second = make.place(name="Shelf A"), make.place(name="Shelf B")
    here, there = make.destination(at=first), make.destination(at=first)
    take = begin_take(places=[first, second], by=make.everyone(), happened=timezone.now())
    visit(take.get_absolute_url())
    look()
    scan(page, here.thing.code)
    scan(page, second.code)
    expect(page.get_by_label("Counting in")).to_have_value(str(second.pk))
    scan(page, there.thing.code)
    expect(page.locator("#notices")).to_contain_text("lies in Shelf B, belongs in Shelf A")
    expect(page.locator("#progress")).to_contain_text("2 of 2")
    look()
    page.get_by_role("link", name="See what differs").click()
    look()
    page.get_by_label(f"answer {there}").check()
    page.get_by_role("button", name="It lies where it was found").click()
    expect(page.get_by_role("cell", name="lies here now")).to_be_visible()
    assert Destination.objects.get(pk=there.pk).thing.place == second
