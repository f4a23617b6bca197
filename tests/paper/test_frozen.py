from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from labcases.core import vault
from labcases.lab.models import Actor, Staff
from labcases.lab.roles import Role
from labcases.paper import papers
from labcases.paper.actions import PaperDamaged, freeze, reprint
from labcases.paper.models import Paper, PaperIsFrozen
from tests.paper.sample import CODE, ISSUED, Sample

KEY = f"intake-form/{CODE}/1"


@pytest.fixture
def clerk(db: None) -> Staff:
    return Staff.objects.create_user(
        login="ines", name="Ines Oduya", password="a-long-pass-phrase", roles=[Role.COUNTER]
    )


@dataclass
class Press:
    """Prints the sample, with what a test changes."""

    by: Actor

    def __call__(self, context: dict[str, Any] | None = None, **changes: Any) -> Paper:
        values = {
            **Sample(context or {}).call,
            "key": KEY,
            "kind": "intake-form",
            "by": self.by,
            "case_code": "2600417D",
        }
        return freeze(**{**values, **changes})


@pytest.fixture
def press(clerk: Staff) -> Press:
    return Press(Actor(clerk, Role.COUNTER))


def test_a_printed_paper_keeps_its_bytes_and_says_who_printed_it_when(press: Press, clerk: Staff) -> None:
    paper = press()
    assert reprint(paper).startswith(b"%PDF-")
    assert (paper.by, paper.role, paper.happened) == (clerk, "counter", ISSUED)
    assert paper.template_version == papers.template_version("sample.html")


def test_printing_again_gives_the_first_copy_even_when_the_case_has_moved_on(press: Press) -> None:
    first, again = press(), press({"story": "Quite another story."})
    assert again == first
    assert reprint(again) == reprint(first)
    assert Paper.objects.count() == 1


def test_another_key_is_another_paper(press: Press) -> None:
    first, second = press(), press({"story": "Quite another story."}, key=f"intake-form/{CODE}/2")
    assert reprint(first) != reprint(second)
    assert list(Paper.objects.of_case("2600417D")) == [second, first]


def test_a_refused_paper_leaves_nothing_behind(press: Press) -> None:
    with pytest.raises(Exception, match="check character"):
        press(code="26-00417-Z")
    assert not Paper.objects.exists()


@pytest.mark.parametrize(
    "change",
    [
        lambda paper: paper.save(),
        lambda paper: paper.delete(),
        lambda paper: Paper.objects.update(title="x"),
        lambda paper: Paper.objects.filter(pk=paper.pk).delete(),
        lambda paper: Paper.objects.bulk_update([paper], ["title"]),
    ],
    ids=["save", "delete", "update", "delete many", "bulk update"],
)
def test_a_printed_paper_is_never_changed_or_removed(press: Press, change: Callable[[Paper], object]) -> None:
    paper = press()
    paper.title = "x"
    with pytest.raises(PaperIsFrozen, match="never changed"), transaction.atomic():
        change(paper)
    assert Paper.objects.get().title == "Intake form and receipt"


@pytest.mark.parametrize(
    ("wrong", "name"),
    [
        ({"key": KEY}, "paper_once|paper_paper.key"),
        ({"title": ""}, "paper_says_what_it_is"),
        ({"sha256": "abc"}, "paper_has_its_digest"),
        ({"size": "A3"}, "paper_size_known"),
    ],
    ids=["key", "title", "digest", "size"],
)
def test_the_database_refuses_a_paper_that_does_not_say_what_it_is(
    press: Press, wrong: dict[str, str], name: str
) -> None:
    paper = press()
    values = {f: getattr(paper, f) for f in ("kind", "title", "language", "size", "sha256", "template_version")}
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        Paper.objects.create(**{**values, "key": "other", "happened": ISSUED, "role": "counter", **wrong})


def test_a_stored_paper_that_was_changed_on_the_disk_is_not_shown(press: Press) -> None:
    paper = press()
    vault.path(paper.sha256).write_bytes(b"%PDF-1.7 forged")
    with pytest.raises(PaperDamaged, match="cannot be shown") as refused:
        reprint(paper)
    vault.path(paper.sha256).unlink()
    assert "changed on the disk" in refused.value.why[0]
    with pytest.raises(PaperDamaged):
        reprint(paper)


def test_the_template_version_changes_with_the_stylesheet(monkeypatch: pytest.MonkeyPatch, tmp_path: Any) -> None:
    other = tmp_path / "paper.css"
    other.write_text("p { color: black }")
    version = papers.template_version.__wrapped__
    before = version("sample.html")
    monkeypatch.setattr(papers, "STYLES", (other,))
    assert version("sample.html") != before


# --- shown in the browser -------------------------------------------------------------------------------------------


def test_a_stored_paper_is_shown_under_its_name_and_kept_by_no_cache(press: Press, clerk: Staff) -> None:
    paper, client = press(), Client()
    client.force_login(clerk)
    response = client.get(paper.get_absolute_url())
    assert response.content == reprint(paper)
    assert response.headers["Content-Type"] == "application/pdf"
    assert response.headers["Content-Disposition"] == f'inline; filename="{CODE} Intake form and receipt.pdf"'
    assert response.headers["X-Content-Type-Options"] == "nosniff"
    assert response.headers["Cache-Control"] == "private, no-store"


def test_a_name_in_another_script_is_written_as_rfc_6266_asks(press: Press, clerk: Staff) -> None:
    """RFC 6266, section 5, with the encoding of RFC 8187 (from memory)."""
    paper, client = press(title="Přijímací list"), Client()
    client.force_login(clerk)
    said = client.get(paper.get_absolute_url()).headers["Content-Disposition"]
    assert said == f"inline; filename*=utf-8''{CODE}%20P%C5%99ij%C3%ADmac%C3%AD%20list.pdf"


def test_a_stranger_sees_no_paper(press: Press) -> None:
    response = Client().get(press().get_absolute_url())
    assert response.status_code == 302
    assert response.headers["Location"].startswith(reverse("lab:log-in"))


def test_a_paper_is_only_looked_at(press: Press, clerk: Staff) -> None:
    client = Client()
    client.force_login(clerk)
    assert client.post(press().get_absolute_url()).status_code == 405
    assert client.get(reverse("paper:show", args=[999_999])).status_code == 404
