"""The small scripts of every page, in a real browser, on a bare page that is served from this folder's files alone."""

from __future__ import annotations

from pathlib import Path

import pytest
import segno
from playwright.sync_api import Page, Route

STATIC = Path(__file__).parents[2] / "static"
HOST = "http://lab.test"
POLICY = "default-src 'self'; img-src 'self' data: blob:"
CODE = "LC2600417D"
READER = "/static/vendor/zxing-browser-0.2.1/zxing-browser.min.js"
PAD = "/static/vendor/signature_pad-5.1.4/signature_pad.min.js"
MODULES = ("find", "scan", "read-photo", "once", "say", "wrongs", "enter-moves-on", "signature")
BARE = f"""<!doctype html><html lang="en"><title>bare</title>
{"".join(f'<script type="module" src="/static/js/{name}.js"></script>' for name in MODULES)}
<body data-find="/find/"><div id="notices"></div>
<form action="/find/"><input id="find" name="q" data-find-field><input type="file" data-read-code="{READER}"></form>
<form id="slip" method="post" action="/sent/" data-enter-moves-on>
<input id="owner" name="owner" value="Orrin Vale"><select id="shelf"><option>A1<option selected>B3<option>L9</select>
<label><input type="checkbox" name="seen" id="dents">dents</label><label><input type="checkbox" name="seen">burn</label>
<input id="serial" name="serial">
<div data-signature="{PAD}" hidden><canvas width="300" height="100"></canvas>
<input type="hidden" name="drawn" id="drawn">
<button type="button" data-clear>Clear</button></div><button>Send</button></form></body></html>"""


def answer(route: Route) -> None:
    path = route.request.url.removeprefix(HOST)
    if path.startswith("/static/"):
        route.fulfill(path=STATIC / path.removeprefix("/static/"), content_type="text/javascript")
    else:
        route.fulfill(body=BARE, content_type="text/html", headers={"Content-Security-Policy": POLICY})


# The moments of key presses are ours to choose, however busy the machine is.
CLOCK = """{ const read = new WeakMap(); let now = 1000;
Object.defineProperty(Event.prototype, "timeStamp", { get() {
  if (!read.has(this)) read.set(this, now += window.gap ?? 1000);
  return read.get(this); } }); }"""


@pytest.fixture
def bare(page: Page) -> Page:
    page.add_init_script(CLOCK)
    page.route("**/*", answer)
    page.goto(f"{HOST}/")
    return page


def take_scans(page: Page) -> None:
    """From now on the page acts on scans itself, and keeps them in ``heard``."""
    page.evaluate(
        "window.heard = []; document.addEventListener('lab:scan',"
        " (e) => { e.preventDefault(); heard.push(e.detail.code); })"
    )


def scan(page: Page, text: str = CODE, gap: int = 10) -> None:
    """Press keys ``gap`` milliseconds apart by the page's own clock, and Enter at the end."""
    page.evaluate(f"window.gap = {gap}")
    page.keyboard.type(text)
    page.keyboard.press("Enter")


def test_a_scan_on_any_page_opens_the_find_address(bare):
    scan(bare, CODE.lower())
    bare.wait_for_url(f"{HOST}/find/?q={CODE}")


def test_a_scan_into_a_field_leaves_the_field_as_it_was(bare):
    take_scans(bare)
    bare.focus("#owner")
    scan(bare)
    assert bare.evaluate("heard") == [CODE]
    assert bare.input_value("#owner") == "Orrin Vale"
    assert bare.url == f"{HOST}/"


def test_a_scan_does_not_change_a_list_that_has_the_focus(bare):
    take_scans(bare)
    bare.focus("#shelf")
    scan(bare)
    assert bare.evaluate("heard") == [CODE]
    assert bare.input_value("#shelf") == "B3"


def test_a_code_typed_by_a_person_stays_typed(bare):
    take_scans(bare)
    bare.focus("#serial")
    scan(bare, gap=150)
    assert bare.evaluate("heard") == []
    assert bare.input_value("#serial") == CODE


def test_fast_typing_that_is_no_code_of_ours_stays_typed(bare):
    take_scans(bare)
    bare.focus("#serial")
    scan(bare, "PW2M0081I7")
    assert bare.evaluate("heard") == []
    assert bare.input_value("#serial") == "PW2M0081I7"


def test_a_slash_goes_to_the_find_field_but_not_while_typing(bare):
    bare.keyboard.press("/")
    assert bare.evaluate("document.activeElement.id") == "find"
    bare.focus("#serial")
    bare.keyboard.press("/")
    assert bare.input_value("#serial") == "/"


def test_a_photo_of_a_symbol_opens_what_it_names(bare, tmp_path):
    photo = tmp_path / "label.png"
    segno.make(CODE).save(str(photo), scale=6)
    bare.set_input_files("[data-read-code]", photo)
    bare.wait_for_url(f"{HOST}/find/?q={CODE}")


def test_a_photo_without_a_symbol_is_said_in_words(bare, tmp_path):
    photo = tmp_path / "label.png"
    segno.make("https://example.com").save(str(photo), scale=6)
    bare.set_input_files("[data-read-code]", photo)
    bare.wait_for_selector("#notices .warning")
    assert "No code of ours" in bare.inner_text("#notices")


def test_enter_moves_on_past_a_group_of_picks_and_sends_nothing(bare):
    sent = []
    bare.on("request", lambda request: sent.append(request.url) if request.method == "POST" else None)
    bare.focus("#owner")
    stops = []
    for _ in range(3):
        bare.keyboard.press("Enter")
        stops.append(bare.evaluate("document.activeElement.id"))
    assert stops == ["shelf", "dents", "serial"]
    assert sent == []


def test_a_second_press_sends_nothing_until_there_is_an_answer_or_one_comes_back(bare):
    bare.evaluate(
        "void (window.press = () => slip.dispatchEvent(new SubmitEvent('submit', { bubbles: true, cancelable: true })))"
    )
    assert [bare.evaluate("press()") for _ in range(3)] == [True, False, False]
    bare.evaluate("window.dispatchEvent(new Event('pageshow'))")
    assert bare.evaluate("press()") is True
    bare.evaluate("slip.dispatchEvent(new Event('htmx:afterRequest', { bubbles: true }))")
    assert bare.evaluate("press()") is True


def test_a_filter_can_be_sent_as_often_as_one_likes(bare):
    press = "document.forms[0].dispatchEvent(new SubmitEvent('submit', { bubbles: true, cancelable: true }))"
    assert [bare.evaluate(press) for _ in range(2)] == [True, True]


def test_a_signature_is_kept_as_a_picture_and_can_be_cleared(bare):
    canvas = bare.locator("canvas")
    canvas.wait_for()
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    bare.mouse.move(box["x"] + 20, box["y"] + 20)
    bare.mouse.down()
    bare.mouse.move(box["x"] + 120, box["y"] + 60, steps=8)
    bare.mouse.up()
    assert bare.input_value("#drawn").startswith("data:image/png;base64,")
    bare.click("[data-clear]")
    assert bare.input_value("#drawn") == ""


def test_the_scripts_keep_to_the_strict_policy(page):
    said = []
    page.on("console", lambda line: said.append(line.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.route("**/*", answer)
    page.goto(f"{HOST}/")
    page.locator("canvas").wait_for()
    assert said == []
