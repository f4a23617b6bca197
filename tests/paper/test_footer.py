"""Every paper says by which key the lab's ledger can be checked, without this room knowing the ledger."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from labcases.paper import footer
from labcases.paper.papers import html

KEY = "3f9a11c2" * 8


@pytest.fixture
def page(make, monkeypatch):
    def drawn(key, **context):
        monkeypatch.setattr(footer, "_key", lambda: key)
        make.profile()
        return html(
            "paper/_base.html", context, title="A paper", language="en-GB", size="A4", code="",
            issued=datetime(2026, 3, 2, tzinfo=UTC),
        )  # fmt: skip

    return drawn


def test_the_foot_of_each_page_has_the_beginning_of_the_key_and_the_end_all_of_it(page):
    said = page(KEY)
    assert "3f9a 11c2 3f9a 11c2" in said.split('class="running-foot"')[1].split("</div>")[0]
    assert KEY in said.split("End of")[1]


def test_a_lab_without_events_prints_no_key(page):
    assert "key" not in page("").split("<body")[1].lower()


def test_what_goes_out_under_another_head_has_no_key(page):
    assert KEY not in page(KEY, letterhead=False)


def test_the_ledgers_own_key_is_what_papers_get(make):
    from labcases.custody.models import Head

    make.case()
    assert footer.ledger_key() == Head.objects.get().key != ""
