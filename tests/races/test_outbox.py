"""Two workers at the outbox in the same moment: each mail goes out once."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

import pytest
from django.core import mail

from labcases.updates import tasks
from labcases.updates.actions import send_update
from labcases.updates.models import Message
from tests.builders import NOON, Make


@pytest.fixture
def both_have_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each worker has read what waits before either sends anything: then both want every mail."""
    real, together, here = tasks._send_one, threading.Barrier(2, timeout=20), threading.local()

    def send_one(pk: int, now: Any) -> int:
        if not hasattr(here, "met"):
            here.met = together.wait()
        return real(pk, now)

    monkeypatch.setattr(tasks, "_send_one", send_one)


@pytest.fixture
def three_mails(make: Make) -> list[str]:
    case, by, subjects = make.case(), make.everyone(), ["one", "two", "three"]
    for subject in subjects:
        send_update(case=case, to="vale@example.com", subject=subject, body="Text", by=by, happened=NOON)
    return sorted(subjects)


@pytest.mark.usefixtures("both_have_listed")
def test_two_workers_send_each_mail_once(at_once: Callable[..., list[Any]], three_mails: list[str]) -> None:
    assert sum(at_once(tasks.send_waiting, tasks.send_waiting)) == 3
    assert sorted(sent.subject for sent in mail.outbox) == three_mails


@pytest.mark.usefixtures("both_have_listed")
def test_without_the_claim_they_would_send_it_twice(
    at_once: Callable[..., list[Any]], three_mails: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The control: the same race, with a claim that everybody wins."""
    monkeypatch.setattr(tasks, "_claim", lambda pk, now: Message.objects.select_related("case__thing").get(pk=pk))
    at_once(tasks.send_waiting, tasks.send_waiting)
    assert len(mail.outbox) == 2 * len(three_mails)
