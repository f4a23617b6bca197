"""A new lab's first minute, in a browser."""

from __future__ import annotations

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from playwright.sync_api import Page

from labcases.ops import first_manager


@pytest.fixture
def address(live_server: Any, tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setattr(settings, "KEY_DIR", tmp_path / "keys")
    return f"{live_server.url}/set-up/{first_manager.token_for(tmp_path / 'keys')}/"


@pytest.mark.postgres  # the walk that also runs on the second engine
def test_the_first_manager_opens_the_lab(page: Page, address: str) -> None:
    page.goto(address)
    assert Axe().run(page).response["violations"] == []
    page.get_by_label("Name of the lab").fill("Harbour Lab")
    page.get_by_label("Your name").fill("Ada Example")
    page.get_by_label("Log-in").fill("ada")
    page.get_by_label("Password", exact=False).first.fill("lantern-orbit-velvet")
    page.get_by_label("Password again").fill("lantern-orbit-velvet")
    page.get_by_role("button", name="Open the lab").click()
    page.wait_for_url(lambda url: "/set-up/" not in url)
    assert "Harbour Lab" in page.title()
