"""A form of a docket's section opens in its place, says what is wrong there, and the docket comes back fresh."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, expect

from labcases.lab.roles import PEOPLE


def test_a_correction_is_made_in_place_of_the_section(
    page: Page, lab: Any, make: Any, live_server: Any, look: Callable[..., None]
) -> None:
    make.staff(login="pia", roles=PEOPLE, password="copper lantern drift")
    case = make.case()
    page.goto(f"{live_server.url}/cases/{case}/")
    page.get_by_label("Log-in").fill("pia")
    page.get_by_label("Password").fill("copper lantern drift")
    page.get_by_role("button", name="Log in").click()
    items = page.locator("#items")
    items.get_by_role("link", name="Correct what was noted").click()
    expect(items.get_by_label("Serial", exact=True)).to_be_visible()
    assert page.url.endswith(f"/cases/{case}/")
    look()
    items.get_by_label("Happened").fill("2999-01-01T10:00")
    items.get_by_role("button", name="Keep this correction").click()
    expect(items.get_by_text("This lies in the future").first).to_be_visible()
    items.get_by_label("Happened").fill("")
    items.get_by_label("Serial", exact=True).fill("ZZ9900441")
    items.get_by_role("button", name="Keep this correction").click()
    expect(items.get_by_role("link", name="Correct what was noted")).to_be_visible()
    expect(items.get_by_text("ZZ9900441")).to_be_visible()
    expect(page.locator("#notices")).to_contain_text("is as you left it")
    items.get_by_role("link", name="Correct what was noted").click()
    items.get_by_role("link", name="Leave it").click()
    expect(items.get_by_role("link", name="Correct what was noted")).to_be_visible()
