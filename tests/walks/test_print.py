"""What is folded away on the screen is on the paper: a page of our styles, printed by a real browser."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Route

STATIC = Path(__file__).parents[2] / "static"
FOLDED = """<!doctype html><html lang="en"><title>folded</title><link rel="stylesheet" href="/static/css/tokens.css">
<link rel="stylesheet" href="/static/css/docket.css"><script type="module" src="/static/js/print.js"></script>
<main><p>newest reading</p><details class="older"><summary>unfold it</summary><p>oldest reading</p></details>
<details><summary>aside</summary><p>only on the screen</p></details></main></html>"""
KINDS = {".css": "text/css", ".js": "text/javascript"}


def answer(route: Route) -> None:
    found = re.search(r"/static/([\w/.-]+)$", route.request.url)
    if found:
        route.fulfill(path=STATIC / found[1], content_type=KINDS[Path(found[1]).suffix])
    else:
        route.fulfill(body=FOLDED, content_type="text/html")


@pytest.mark.parametrize("scripts", [True, False], ids=["with scripts", "without scripts"])
def test_older_rows_are_printed_though_they_are_folded_away(browser: Browser, tmp_path: Path, scripts: bool) -> None:
    page = browser.new_page(java_script_enabled=scripts)
    page.route("**/*", answer)
    page.goto("http://lab.test/")
    assert page.get_by_text("newest reading").is_visible()
    assert not page.get_by_text("oldest reading").is_visible()
    page.pdf(path=tmp_path / "page.pdf")
    said = subprocess.run(["pdftotext", tmp_path / "page.pdf", "-"], capture_output=True, check=True).stdout.decode()
    assert ("newest reading" in said, "oldest reading" in said) == (True, True)
    assert ("unfold it" in said, "only on the screen" in said) == (False, False)
    assert not page.get_by_text("oldest reading").is_visible(), "folded as before"
    page.close()
