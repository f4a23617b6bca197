from __future__ import annotations

import smtplib
from collections.abc import Callable
from datetime import datetime, timedelta
from email.utils import parsedate_to_datetime

import pytest
from django.core import mail
from django.db import transaction
from django.utils import timezone

from labcases.custody.models import Event
from labcases.lab import timetable
from labcases.lab.roles import Role
from labcases.updates import retrying, tasks
from labcases.updates.actions import NothingToDecide, NotSent, leave_unsent, send_test, try_again
from labcases.updates.models import Message
from labcases.updates.tasks import LEASE, send_waiting
from tests.builders import NOON, Make

Write = Callable[..., Message]
Says = Callable[[Exception | None], None]
BUSY = smtplib.SMTPServerDisconnected("Connection unexpectedly closed")
NO_SUCH = smtplib.SMTPRecipientsRefused({"vale@example.com": (550, b"5.1.1 No such\r\nmailbox")})


def fresh(message: Message) -> Message:
    return Message.objects.get(pk=message.pk)


@pytest.fixture
def now() -> datetime:
    return timezone.now() + timedelta(seconds=1)


def test_what_waits_goes_out_once_and_says_when(write: Write, now: datetime) -> None:
    message = write()
    assert send_waiting(now) == 1
    assert send_waiting(now) == 0
    assert (fresh(message).state, fresh(message).sent, fresh(message).held_until) == ("sent", now, None)
    assert [sent.to for sent in mail.outbox] == [["vale@example.com"]]


def test_a_mail_comes_from_the_lab_and_answers_go_to_it(write: Write, make: Make, now: datetime) -> None:
    make.profile(name="Kailyard Ünit, the Lab", email="desk@lab.example.com")
    write()
    send_waiting(now)
    assert mail.outbox[0].message()["From"] == "=?utf-8?q?Kailyard_=C3=9Cnit=2C_the_Lab?= <desk@lab.example.com>"
    assert mail.outbox[0].reply_to == ["desk@lab.example.com"]


def test_the_address_of_the_settings_wins_since_servers_let_nobody_write_as_another(
    write: Write, make: Make, now: datetime, settings: object
) -> None:
    settings.DEFAULT_FROM_EMAIL = "Robot <out@relay.example.com>"  # type: ignore[attr-defined]
    make.profile(name="Quayside", email="desk@lab.example.com")
    write()
    send_waiting(now)
    assert mail.outbox[0].from_email == "Quayside <out@relay.example.com>"


def test_a_mail_that_is_sent_twice_is_the_same_mail(write: Write, now: datetime) -> None:
    message = write()
    first, second = (tasks.letter(fresh(message)).message() for _ in range(2))
    assert first["Message-ID"] == second["Message-ID"]
    assert str(message.ref) in first["Message-ID"]
    assert parsedate_to_datetime(first["Date"]) == message.entered.replace(microsecond=0)


def test_a_server_that_hangs_up_is_asked_again_later_and_later(write: Write, server_says: Says, now: datetime) -> None:
    message, waits = write(), []
    server_says(BUSY)
    while fresh(message).state == "waiting":
        assert send_waiting(now) == 0
        waits.append(fresh(message).due - now)
        now = max(fresh(message).due, now)
    assert waits[:-1] == list(retrying.WAITS)
    assert (fresh(message).state, fresh(message).tries) == ("failed", retrying.TRIES)
    assert fresh(message).error == "The mail server hung up before it took the mail."


def test_nothing_is_tried_before_its_time(write: Write, server_says: Says, now: datetime) -> None:
    message = write()
    server_says(BUSY)
    send_waiting(now)
    server_says(None)
    assert send_waiting(now + timedelta(seconds=59)) == 0
    assert send_waiting(now + timedelta(seconds=61)) == 1
    assert (fresh(message).state, fresh(message).error) == ("sent", "")


def test_an_address_that_does_not_exist_fails_at_once_and_the_ledger_says_so(
    write: Write, server_says: Says, now: datetime
) -> None:
    message = write()
    server_says(NO_SUCH)
    send_waiting(now)
    assert fresh(message).state == "failed"
    assert fresh(message).error == "The mail server refuses this address: 550 5.1.1 No such mailbox."
    event = Event.objects.get(kind="not-told")
    assert (event.role, event.case_code) == ("worker", message.case.code)


def test_one_bad_mail_does_not_hold_up_the_others(write: Write, monkeypatch: pytest.MonkeyPatch, now: datetime) -> None:
    bad, good = write(to="gone@example.com"), write(to="here@example.com")
    letter = tasks.letter

    def picky(message: Message) -> object:
        if message.with_whom == "gone@example.com":
            raise NO_SUCH
        return letter(message)

    monkeypatch.setattr(tasks, "letter", picky)
    assert send_waiting(now) == 1
    assert (fresh(bad).state, fresh(good).state) == ("failed", "sent")


def test_a_mail_in_another_workers_hands_is_left_alone(write: Write, now: datetime) -> None:
    message = write()
    Message.objects.filter(pk=message.pk).update(held_until=now + timedelta(seconds=1), tries=1)
    assert send_waiting(now) == 0
    assert mail.outbox == []


def test_a_mail_of_a_killed_worker_is_taken_up_when_its_lease_ran_out(write: Write, now: datetime) -> None:
    message = write()
    assert tasks._claim(message.pk, now) is not None  # and then the worker is killed
    assert send_waiting(now + LEASE - timedelta(seconds=1)) == 0
    assert send_waiting(now + LEASE + timedelta(seconds=1)) == 1
    assert (fresh(message).state, fresh(message).tries) == ("sent", 2)


def test_a_mail_that_kills_every_worker_is_given_up(write: Write, now: datetime) -> None:
    message = write()
    for n in range(retrying.TRIES):
        assert tasks._claim(message.pk, now + n * 2 * LEASE) is not None
    send_waiting(now + retrying.TRIES * 2 * LEASE)
    assert fresh(message).state == "failed"
    assert mail.outbox == []


def test_a_worker_that_lost_its_lease_does_not_undo_what_the_next_one_did(write: Write, now: datetime) -> None:
    message = write()
    slow = tasks._claim(message.pk, now)
    assert slow is not None
    assert send_waiting(now + 2 * LEASE) == 1
    tasks._note_failure(slow, retrying.trouble(BUSY), now + 2 * LEASE)
    tasks._note_failure(slow, retrying.trouble(NO_SUCH), now + 2 * LEASE)
    assert fresh(message).state == "sent"
    assert not Event.objects.filter(kind="not-told").exists()


def test_a_worker_that_lost_its_lease_does_not_free_the_mail_under_the_next_one(write: Write, now: datetime) -> None:
    slow = tasks._claim(write().pk, now)
    assert slow is not None
    second = tasks._claim(slow.pk, now + 2 * LEASE)
    assert second is not None
    tasks._note_failure(slow, retrying.trouble(NO_SUCH), now + 2 * LEASE)
    assert (fresh(slow).state, fresh(slow).held_until) == ("waiting", second.held_until)


@pytest.mark.django_db(transaction=True)
def test_nothing_is_sent_inside_a_transaction(write: Write, now: datetime) -> None:
    message = write()
    with pytest.raises(RuntimeError, match="durable"), transaction.atomic():
        send_waiting(now)
    assert (fresh(message).state, mail.outbox) == ("waiting", [])


def test_without_a_mail_server_mails_wait_untried_and_it_is_said(write: Write, now: datetime, settings: object) -> None:
    settings.EMAIL_BACKEND, settings.EMAIL_HOST = tasks.OVER_THE_WIRE, ""  # type: ignore[attr-defined]
    message = write()
    assert send_waiting(now) == 0
    assert (fresh(message).state, fresh(message).tries) == ("waiting", 0)
    assert "EMAIL_HOST" in tasks.hindrance()


def test_a_real_refused_connection_is_said_in_a_sentence(write: Write, now: datetime, settings: object) -> None:
    settings.EMAIL_BACKEND, settings.EMAIL_HOST, settings.EMAIL_PORT = tasks.OVER_THE_WIRE, "127.0.0.1", 9  # type: ignore[attr-defined]
    settings.DEFAULT_FROM_EMAIL = "desk@lab.example.com"  # type: ignore[attr-defined]
    message = write()
    send_waiting(now)
    assert fresh(message).error == "The mail server cannot be reached: Connection refused."


def test_a_failed_mail_can_be_tried_again(write: Write, make: Make, server_says: Says, now: datetime) -> None:
    message = write()
    server_says(NO_SUCH)
    send_waiting(now)
    server_says(None)
    again = try_again(message=message, by=make.actor(Role.COUNTER), happened=NOON)
    assert (again.state, again.tries) == ("waiting", 0)
    assert send_waiting(timezone.now()) == 1


@pytest.mark.parametrize("verb", [try_again, leave_unsent])
def test_a_sent_mail_is_neither_sent_again_nor_called_back(
    write: Write, make: Make, now: datetime, verb: Callable[..., Message]
) -> None:
    message = write()
    send_waiting(now)
    with pytest.raises(NothingToDecide, match="no longer waiting"):
        verb(message=message, by=make.everyone(), happened=NOON)


def test_a_mail_that_is_being_sent_cannot_be_decided_about(write: Write, make: Make) -> None:
    message = write()
    tasks._claim(message.pk, timezone.now())
    with pytest.raises(NothingToDecide, match="being sent"):
        leave_unsent(message=message, by=make.everyone(), happened=NOON)


def test_a_mail_left_unsent_stays_on_file_and_never_goes(write: Write, make: Make, now: datetime) -> None:
    message = leave_unsent(message=write(), by=make.everyone(), happened=NOON)
    assert message.state == "unsent"
    assert send_waiting(now) == 0
    assert Event.objects.filter(kind="not-told").count() == 1


def test_the_worker_sends_the_outbox_every_five_seconds() -> None:
    assert timetable.JOBS["send the outbox"].every == timedelta(seconds=5)


def test_a_test_mail_goes_out_at_once(make: Make) -> None:
    make.profile(email="desk@lab.example.com")
    assert send_test(by=make.actor(Role.MANAGER), to="me@example.com") == "me@example.com"
    assert mail.outbox[0].to == ["me@example.com"]


def test_a_test_mail_that_fails_says_what_the_server_said(make: Make, server_says: Says) -> None:
    server_says(smtplib.SMTPAuthenticationError(535, b"bad credentials"))
    with pytest.raises(NotSent) as refused:
        send_test(by=make.actor(Role.MANAGER), to="me@example.com")
    assert refused.value.why == ("The mail server does not accept our log-in. Check EMAIL_USER and EMAIL_PASSWORD.",)
