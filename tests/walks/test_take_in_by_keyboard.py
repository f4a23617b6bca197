"""The whole intake of a known customer with one drive, by keyboard alone, and its keys counted."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from labcases.cases.models import Case
from tests.builders import PASSWORD

MOST_KEYS = 60  # besides the typed words
SETTLED = 300  # milliseconds: a letter picks once no further key follows


class Keyboard:
    """Presses keys and counts those that are no typed words."""

    def __init__(self, page: Page) -> None:
        self.page, self.pressed = page, 0

    def press(self, key: str, times: int = 1) -> None:
        for _ in range(times):
            self.page.keyboard.press(key)
            self.pressed += 1

    def pick(self, letter: str) -> None:
        """A letter goes to the pick that begins with it, the space bar takes it."""
        self.press(letter)
        self.page.wait_for_timeout(SETTLED)
        self.press("Space")

    def type(self, words: str) -> None:
        self.page.keyboard.type(words)

    def on_to(self, name: str, most: int = 12) -> None:
        """Press Enter (Tab where Enter writes a line) until this field has the cursor."""
        for _ in range(most):
            if self.here().get("name") == name:
                return
            self.press("Tab" if self.here()["tag"] == "TEXTAREA" else "Enter")
        pytest.fail(f"{name} is not reached: the cursor stays in {self.here()}")

    def here(self) -> dict[str, str]:
        return self.page.evaluate("({name: document.activeElement.name, tag: document.activeElement.tagName})")


@pytest.fixture
def keyboard(page: Page, lab: Any, make: Any) -> Keyboard:
    """The take-in page, open; the customer was here before."""
    make.case(owner=make.party(name="Orrin Vale", phone="+441184960743", address="7 Salt Lane"))
    page.goto(lab.url)
    page.get_by_label("Log-in").fill("sal")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Log in").click()
    page.goto(f"{lab.url}/counter/take-in/")
    return Keyboard(page)


def test_a_known_customer_with_one_drive_needs_few_keys(keyboard: Keyboard, look: Callable[..., None]) -> None:
    page = keyboard.page
    keyboard.type("0743")
    page.wait_for_selector("[data-answers] button")
    keyboard.press("ArrowDown")
    keyboard.press("Enter")
    expect(page.locator("#id_owner-name")).to_have_value("Orrin Vale")
    expect(page.locator('[name="brought"]').first).to_be_focused()
    keyboard.on_to("item-0-kind")
    keyboard.press("Space")
    for name, words in (("maker", "Pelorus"), ("model", "PL500-2M"), ("serial", "PW2M000777")):
        keyboard.on_to(f"item-0-{name}")
        keyboard.type(words)
    for name, letter in (("item-0-marks", "n"), ("item-0-behaviours", "c"), ("told-stories", "d"), ("told-tried", "n")):
        keyboard.on_to(name)
        keyboard.pick(letter)
    keyboard.on_to("told-wanted")
    keyboard.type("Photographs")
    keyboard.on_to("terms-how")
    keyboard.press("ArrowRight", 2)
    keyboard.on_to("accessories")
    keyboard.type("2 USB cables")
    expect(page.locator("#slip")).to_contain_text("2 × USB cables")
    expect(page.locator("#power-1")).to_contain_text("No power")
    look()
    keyboard.press("Control+Enter")
    page.wait_for_url("**/receipt/")
    look()
    case = Case.objects.order_by("-pk").first()
    assert (case.owner.name, case.items.get().serial, case.signed_how) == ("Orrin Vale", "PW2M000777", "paper")
    assert case.intake_finished
    assert keyboard.pressed < MOST_KEYS


def test_three_items_errors_and_a_colleague_are_pages_without_fault(
    keyboard: Keyboard, look: Callable[..., None]
) -> None:
    """The page in trouble: several items and mistakes, at desk and phone width, light and dark."""
    page = keyboard.page
    for number in (2, 3):
        page.get_by_role("button", name="Add another item").click()
        expect(page.locator(f"#item-form-{number}")).to_be_visible()
    page.get_by_label("somebody else", exact=True).first.check()
    page.locator("#id_terms-limit").fill("1.234")
    page.get_by_role("button", name="Leave unfinished").click()
    expect(page.locator("[data-wrongs]")).to_be_focused()
    for width in (1440, 390):
        for scheme in ("light", "dark"):
            page.set_viewport_size({"width": width, "height": 900})
            page.emulate_media(color_scheme=scheme)
            look()
