"""Photos in a browser: sent at once, refused in words, dropped, sent again when the line is full; the label typed."""

from __future__ import annotations

import base64
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import Page, expect

from labcases.custody.models import Event, Photo
from labcases.custody.photos import darkroom
from labcases.lab.models import Staff
from tests.photographs import photograph

DROP = """([name, type, text]) => {
  const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0)), carried = new DataTransfer();
  carried.items.add(new File([bytes], name, { type }));
  const place = document.querySelector("[data-photos]");
  for (const step of ["dragover", "drop"]) {
    place.dispatchEvent(new DragEvent(step, { dataTransfer: carried, bubbles: true, cancelable: true }));
  }
}"""


@pytest.fixture
def item(lab: Any, make: Any, page: Page) -> Any:
    client = Client()
    client.force_login(Staff.objects.get(login="sal"))
    name = settings.SESSION_COOKIE_NAME
    page.context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": lab.url}])
    return make.item()


def file(name: str, data: bytes | None = None) -> dict[str, Any]:
    return {"name": name, "mimeType": "image/jpeg", "buffer": photograph(name) if data is None else data}


@pytest.fixture
def photos(item: Any, lab: Any, page: Page) -> Page:
    page.goto(f"{lab.url}/custody/things/{item}/photos/")
    return page


def test_several_photos_go_at_once_and_the_one_that_is_none_says_so(photos: Page, look: Any) -> None:
    look()
    some = [file("label.jpg"), file("program.jpg", b"MZ\x90\x00"), file("board.jpg")]
    photos.locator("[name=photos][multiple]").set_input_files(some)
    expect(photos.locator(".shots li")).to_have_count(2)
    expect(photos.get_by_text("It is a program.")).to_be_visible()
    expect(photos.locator(".tally")).to_contain_text("2 photos are kept")
    look()
    photos.get_by_role("button", name="Leave it out").click()
    expect(photos.locator(".sending li")).to_have_count(0)
    photos.wait_for_load_state("networkidle")
    assert Event.objects.filter(kind="photographed").count() == 1


def test_a_photo_is_dropped_on_the_page(photos: Page) -> None:
    photos.evaluate(DROP, ["side.jpg", "image/jpeg", base64.b64encode(photograph("side")).decode()])
    expect(photos.locator(".shots li")).to_have_count(1)


def test_a_photo_waits_and_goes_again_when_the_line_is_full(photos: Page, monkeypatch: Any) -> None:
    develop, tries = darkroom.develop, []

    def full_at_first(data: bytes) -> Any:
        tries.append(data)
        if len(tries) == 1:
            raise darkroom.Busy
        return develop(data)

    monkeypatch.setattr(darkroom, "develop", full_at_first)
    photos.locator("[name=photos][multiple]").set_input_files([file("label.jpg")])
    expect(photos.locator(".shots li")).to_have_count(1)
    assert len(tries) == 2


def test_what_was_sent_after_the_log_in_was_lost_can_be_tried_again(photos: Page) -> None:
    photos.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
    photos.locator("[name=photos][multiple]").set_input_files([file("label.jpg")])
    expect(photos.get_by_role("button", name="Try again")).to_be_visible()
    assert not Photo.objects.exists()


def test_photos_of_an_intake_go_with_the_case(item: Any, lab: Any, page: Page) -> None:
    page.goto(f"{lab.url}/counter/take-in/")
    page.locator("[name=photos][multiple]").set_input_files([file("label.jpg")])
    expect(page.locator(".shots li")).to_have_count(1)
    page.reload()
    expect(page.locator(".shots li")).to_have_count(1)
    page.get_by_label("Phone", exact=False).first.fill("+44 118 496 0123")
    page.locator("[name=owner-name]").fill("Tamsin Arkwell")
    page.get_by_text("2.5″ disk", exact=True).first.click()
    page.get_by_role("button", name="Leave unfinished").click()
    page.wait_for_url("**/cases/**")
    expect(page.locator(".shots li")).to_have_count(1)
    assert Photo.objects.get().event is not None


def test_the_label_is_typed_beside_its_photo(item: Any, lab: Any, page: Page, look: Any) -> None:
    page.goto(f"{lab.url}/cases/{item.case}/items/1/label/")
    page.locator("[name=photos][multiple]").set_input_files([file("label.jpg")])
    expect(page.locator(".shots li")).to_have_count(1)
    page.get_by_role("link", name="show it here").click()
    look()
    pane = page.locator(".seen .pane")
    pane.click()
    expect(page.locator("[data-compare]")).to_have_class("compare-one close")
    page.get_by_label("Serial").fill("PLW0O1I5S8B2")
    page.get_by_role("button", name="Keep what the label says").click()
    page.wait_for_url(f"**/cases/{item.case}/**")
    item.refresh_from_db()
    assert item.serial == "PLW0O1I5S8B2"


def test_two_photos_stand_side_by_side(photos: Page, look: Any) -> None:
    photos.locator("[name=photos][multiple]").set_input_files([file("label.jpg"), file("board.jpg")])
    expect(photos.locator(".shots li")).to_have_count(2)
    photos.reload()
    photos.get_by_role("link", name="Compare two").click()
    look()
    panes = photos.locator(".pane")
    expect(panes).to_have_count(2)
    panes.first.focus()
    photos.keyboard.press("Enter")
    photos.keyboard.press("ArrowRight")
    assert photos.evaluate("document.querySelector('[data-compare]').style.getPropertyValue('--x')") == "56%"


def test_a_photo_is_looked_over(photos: Page, look: Any) -> None:
    photos.locator("[name=photos][multiple]").set_input_files([file("label.jpg")])
    photos.locator(".shots a").click()
    photos.wait_for_url("**/custody/photos/*/")
    look()
