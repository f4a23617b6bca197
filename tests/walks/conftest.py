"""What every walk shares: a lab with people in it, a page that is looked over at each step, pictures for README."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

PICTURES = Path(__file__).parent / "pictures"


@pytest.fixture
def look(page: Page) -> Callable[..., None]:
    """Look over the page: no axe violation, no sideways scroll. ``look("name")`` also takes a picture.

    Pictures are written only when the environment says PICTURES=yes.
    """

    def over(picture: str = "") -> None:
        found = Axe().run(page).response["violations"]
        assert [(wrong["id"], wrong["nodes"][0]["html"]) for wrong in found] == []
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), page.url
        if picture and os.environ.get("PICTURES") == "yes":
            page.evaluate("window.scrollTo(0, 0)")
            page.screenshot(path=PICTURES / f"{picture}.png")

    return over


@pytest.fixture
def lab(transactional_db: None, make: Any, live_server: Any) -> Any:
    """A lab with a counter, shelves and terms; one person, log-in ``sal``, who holds every role."""
    make.profile(name="Quayside Media Lab", email="lab@example.com")
    make.terms()
    make.place(kind="counter", name="Counter")
    make.staff(login="sal", name="Sal Oriel")
    return live_server
