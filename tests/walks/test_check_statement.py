"""The page that checks a custody statement, in a real browser: it agrees with the program and asks nobody."""

from __future__ import annotations

import base64
import json
import os
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page, Route

from labcases.custody import papers
from labcases.custody.models import Head
from labcases.custody.verifier import check_statement
from labcases.custody.verifier.check_statement import FAILS, HOLDS, UNKNOWN, Unreadable
from labcases.lab.roles import Role
from labcases.paper.actions import reprint
from tests.walks.judging import wrong_with
from tests.walks.statements import HARMS, Sample, as_mail, heads, samples

SCRIPT = Path(__file__).parents[2] / "static" / "js" / "verify.js"
HOST = "http://localhost"  # WebCrypto works here as on https
COUNT = 200
ASK = """async (samples) => {
  const { check, read, readHead } = await import("/verify.js");
  const bytes = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const one = async ([data, key, newer]) => {
    try { return await check(await read(bytes(data)), key, newer && readHead(bytes(newer))); }
    catch (error) { return [["unreadable", error.message]]; }
  };
  const said = [];
  for (const sample of samples) said.push(await one(sample));
  return said;
}"""


@pytest.fixture
def bare(page: Page) -> Page:
    """A page with nothing on it, beside the script."""

    def answer(route: Route) -> None:
        if route.request.url.endswith("/verify.js"):
            route.fulfill(path=SCRIPT, content_type="text/javascript")
        else:
            route.fulfill(body="<!doctype html><title>bare</title>", content_type="text/html")

    page.route("**/*", answer)
    page.goto(f"{HOST}/")
    return page


def in_python(sample: Sample) -> list[list[str]]:
    try:
        said = check_statement.check(check_statement.read(sample.data), sample.key, sample.newer)
    except Unreadable as error:
        return [["unreadable", str(error)]]
    return [list(line) for line in said]


def in_the_browser(page: Page, chosen: list[Sample]) -> list[list[list[str]]]:
    def text(data: bytes) -> str:
        return base64.b64encode(data).decode()

    sent = [[text(s.data), s.key, None if s.newer is None else text(json.dumps(s.newer).encode())] for s in chosen]
    said: list[list[list[str]]] = page.evaluate(ASK, sent)
    return said


def test_the_browser_and_the_program_say_the_same_of_two_hundred_statements_good_and_bad(bare: Page) -> None:
    chosen = list(samples(COUNT))
    theirs = in_the_browser(bare, chosen)
    for sample, browser in zip(chosen, theirs, strict=True):
        assert browser == in_python(sample), sample.name


def test_the_two_hundred_hold_every_harm_and_enough_that_hold() -> None:
    """The control: were all of them refused alike, agreement would say nothing."""
    judged: Counter[str] = Counter()
    sentences = set()
    for sample in samples(COUNT):
        said = in_python(sample)
        verdicts = {verdict for verdict, _ in said}
        judged["unreadable" if "unreadable" in verdicts else "bad" if FAILS in verdicts else "good"] += 1
        sentences |= {"".join(c for c in sentence if not c.isdigit())[:30] for _, sentence in said}
    assert min(judged.values()) >= 10, judged
    assert judged["bad"] >= 80, judged
    assert len(sentences) > len(HARMS)


def test_the_browser_and_the_program_say_the_same_of_heads_alone(bare: Page) -> None:
    chosen = list(heads(90))
    ours = [in_python(sample) for sample in chosen]
    for sample, browser, program in zip(chosen, in_the_browser(bare, chosen), ours, strict=True):
        assert browser == program, sample.name
    verdicts = [{verdict for verdict, _ in said} for said in ours]
    assert sum(FAILS in found for found in verdicts) > 20
    assert sum(found == {HOLDS, UNKNOWN} or found == {HOLDS} for found in verdicts) > 10
    assert any("has grown from this head's" in sentence for said in ours for _, sentence in said)
    assert any("more than one head" in sentence for said in ours for _, sentence in said)


def test_the_page_has_the_checks_of_the_program_in_the_same_order(bare: Page) -> None:
    names = bare.evaluate("async () => Object.keys((await import('/verify.js')).CHECKS)")
    assert names == [check.__name__ for check in check_statement.CHECKS]


@pytest.fixture
def statement(lab: Any, make: Any, tmp_path: Path) -> Path:
    case = make.case(items=2)
    paper = papers.print_statement(case.thing, by=make.actor(Role.COUNTER), issued=timezone.now())
    file = tmp_path / "statement.pdf"
    file.write_bytes(reprint(paper))
    return file


def test_a_stranger_checks_a_printed_statement_and_nothing_leaves_the_page(
    lab: Any, statement: Path, page: Page, look: Any
) -> None:
    page.goto(lab.url + reverse("custody:check"), wait_until="networkidle")
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.set_input_files("[name=statement]", statement)
    page.get_by_role("heading", name="Everything that was checked holds.").wait_for()
    assert "Every event:" in page.inner_text("[data-found]")
    assert page.get_by_role("row").count() > 3
    assert [address for address in asked if "/static/fonts/" not in address] == []
    look()
    if os.environ.get("SHOT"):
        page.screenshot(path=os.environ["SHOT"], full_page=True)


def test_a_witness_checks_the_mail_that_was_kept_against_the_newest_head(
    lab: Any, make: Any, tmp_path: Path, page: Page, client: Any
) -> None:
    make.case()
    head = Head.objects.get().as_signed().as_record()
    make.case()
    (tmp_path / "kept.eml").write_bytes(as_mail(head))
    newer = client.get(reverse("custody:public-key") + f"?format=json&since={head['size']}").content
    (tmp_path / "newer.json").write_bytes(newer)
    page.goto(lab.url + reverse("custody:check"))
    page.set_input_files("[name=statement]", tmp_path / "kept.eml")
    page.get_by_text(f"Head of a ledger of {head['size']} events.").wait_for()
    page.set_input_files("[name=newer]", tmp_path / "newer.json")
    page.get_by_text("has grown from this head's").wait_for()
    assert wrong_with(page) == []


def test_a_changed_file_is_said_not_to_hold(lab: Any, statement: Path, page: Page) -> None:
    page.goto(lab.url + reverse("custody:check"))
    page.fill("[name=key]", "00" * 32)
    page.set_input_files("[name=statement]", statement)
    page.get_by_role("heading", name="This statement does not hold.").wait_for()
    assert "The key is not the one you named" in page.inner_text("[data-found]")
    page.set_input_files("[name=statement]", Path(__file__))
    page.get_by_text("cannot be read as JSON").wait_for()


def test_the_page_could_not_send_the_file_if_it_tried(client: Any, db: None) -> None:
    answer = client.get(reverse("custody:check"))
    policy = answer.headers["Content-Security-Policy"]
    assert "connect-src 'none'" in policy
    assert "form-action 'none'" in policy
    assert b"<form" not in answer.content
    assert not any(word in SCRIPT.read_text() for word in ("fetch(", "XMLHttpRequest", "sendBeacon", "WebSocket"))


def test_a_script_on_the_page_is_refused_a_connection(lab: Any, page: Page) -> None:
    page.goto(lab.url + reverse("custody:check"))
    sent = page.evaluate("fetch('/custody/public-key/').then(() => 'sent', () => 'refused')")
    assert sent == "refused"


def test_where_the_browser_cannot_check_signatures_it_says_so_and_checks_the_rest(bare: Page) -> None:
    bare.evaluate("void (crypto.subtle.importKey = () => Promise.reject(new DOMException('no', 'NotSupportedError')))")
    (said,) = in_the_browser(bare, list(samples(1)))
    assert said[0] == ["not known", "Whether the lab signed the head: this browser cannot check such signatures."]
    assert any(sentence.startswith("Every event") for _, sentence in said)
