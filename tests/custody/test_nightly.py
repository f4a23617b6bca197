"""The walk through the ledger every day, the heads that are kept, and who is told."""

from __future__ import annotations

import json

import pytest
from django.db import connection
from django.db.models import QuerySet
from django.urls import reverse

from labcases.custody import chain, tasks, triggers
from labcases.custody.models import Event, Head, KeptHead, LedgerCheck
from labcases.custody.signing import SignedHead, keep_beside_key
from labcases.lab import timetable
from labcases.lab.roles import Role

BANNER = "The ledger did not hold"


@pytest.fixture
def ledger(make, settings, tmp_path):
    settings.KEY_DIR = tmp_path / "keys"
    make.case(items=2)
    keep_beside_key(settings.KEY_DIR, Head.objects.get().as_signed())


@pytest.fixture
def tampered(ledger):
    triggers.drop(connection)
    QuerySet(Event).filter(sequence=2).update(kind="wiped")


def test_a_walk_is_written_down(ledger):
    made = tasks.verify_ledger()
    assert (made.holds, made.size, made.findings) == (True, Event.objects.count(), [])
    assert LedgerCheck.objects.get() == made


def test_what_a_walk_finds_is_written_down_with_its_event_and_detector(tampered):
    made = tasks.verify_ledger()
    assert not made.holds
    assert [(f["detector"], f["sequence"]) for f in made.findings] == [("columns", 2)]


def test_the_worker_walks_and_keeps_a_head_every_day():
    daily = {name for name, job in timetable.JOBS.items() if job.every.days == 1}
    nightly = {"verify the ledger", "recheck lines of custody", "keep the day's head of the ledger"}
    assert nightly | {"tell witnesses the ledger's head"} <= daily


def test_a_days_head_is_kept_once_however_often_the_job_runs(ledger):
    first, again = tasks.keep_daily_head(), tasks.keep_daily_head()
    assert first == again == KeptHead.objects.get()
    assert first.as_signed().holds()
    assert first.because == "daily"


def test_an_empty_ledger_has_no_head_to_keep(db):
    assert tasks.keep_daily_head() is None
    assert not KeptHead.objects.exists()


def test_managers_are_told_on_every_page_while_the_last_walk_failed(tampered, client_as):
    tasks.verify_ledger()
    for page in ("docket:home", "custody:things", "lab:lab"):
        assert BANNER in client_as(Role.MANAGER).get(reverse(page), follow=True).content.decode()
    assert BANNER not in client_as(Role.ENGINEER).get(reverse("custody:things")).content.decode()


def test_the_banner_goes_when_a_later_walk_holds(tampered, client_as):
    tasks.verify_ledger()
    QuerySet(Event).filter(sequence=2).update(kind=_kind_in_the_body(2))
    assert tasks.verify_ledger().holds
    assert BANNER not in client_as(Role.MANAGER).get(reverse("custody:things")).content.decode()


def _kind_in_the_body(sequence: int) -> str:
    return json.loads(bytes(Event.objects.get(sequence=sequence).body))["kind"]


def test_the_front_of_custody_shows_the_last_walk_the_key_and_the_head(ledger, client_as):
    client, head = client_as(Role.AUDITOR), Head.objects.get()
    assert "Not checked yet" in client.get(reverse("docket:custody")).content.decode()
    tasks.verify_ledger()
    page = client.get(reverse("docket:custody")).content.decode()
    assert "every one as it was recorded" in page
    assert head.key in page
    assert head.root in page


def test_the_front_of_custody_names_what_does_not_hold(tampered, client_as):
    tasks.verify_ledger()
    page = client_as(Role.AUDITOR).get(reverse("docket:custody")).content.decode()
    assert "The ledger does not hold" in page
    assert "found by: columns" in page


def test_anybody_sees_the_public_key_and_the_newest_head(ledger, client):
    page = client.get(reverse("custody:public-key"))
    assert page.status_code == 200
    assert Head.objects.get().key in page.content.decode()
    said = client.get(reverse("custody:public-key") + "?format=json").json()
    head = SignedHead(**said["head"])
    assert head.holds()
    assert (head.size, head.key) == (Event.objects.count(), said["key"])


def test_before_the_first_event_there_is_no_head_to_show(client, settings, tmp_path, db):
    settings.KEY_DIR = tmp_path
    assert client.get(reverse("custody:public-key") + "?format=json").json() == {"key": "", "head": None}
    assert "Nothing is recorded yet" in client.get(reverse("custody:public-key")).content.decode()


def test_anybody_who_kept_a_head_is_shown_that_the_ledger_only_grew(ledger, make, client):
    kept = Head.objects.get().as_signed()
    make.case()
    said = client.get(reverse("custody:public-key") + f"?format=json&since={kept.size}").json()
    now, proof = SignedHead(**said["head"]), [bytes.fromhex(step) for step in said["growth"]]
    roots = bytes.fromhex(kept.root), bytes.fromhex(now.root)
    assert now.size > kept.size
    assert chain.verify_consistency(kept.size, now.size, *roots, proof)


@pytest.mark.parametrize("since", ["0", "x", "-1", "99999", "9" * 5000, ""])
def test_there_is_no_growth_from_a_head_that_never_was(ledger, client, since):
    assert client.get(reverse("custody:public-key") + f"?format=json&since={since}").status_code == 404
