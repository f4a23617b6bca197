"""What is wrong with a page of a live server: axe after WCAG 2.2, A and AA, and whether it scrolls sideways."""

from __future__ import annotations

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.walks.test_every_page_is_accessible import WCAG


def wrong_with(page: Page) -> list[str]:
    """What axe finds, and whether the page scrolls sideways; axe is put into the page past its policy."""
    found = Axe().run(page, options=WCAG).response["violations"]
    said = [f"{one['id']}: {one['nodes'][0]['html'][:160]}" for one in found]
    if page.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
        said.append("scrolls sideways")
    return said
