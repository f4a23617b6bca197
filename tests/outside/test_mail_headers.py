"""Mails as another program reads them: parsed by Python's email package (RFC 5322, RFC 2047), after the wire."""

from __future__ import annotations

import email
import email.policy
from email.message import EmailMessage
from typing import Any

import pytest

from labcases.updates import tasks
from labcases.updates.actions import send_update
from tests.builders import NOON, Make


def arrived(make: Make, **said: Any) -> EmailMessage:
    said = {"to": "vale@example.com", "subject": "S", "body": "B"} | said
    message = send_update(case=make.case(), by=make.everyone(), happened=NOON, **said)
    raw = tasks.letter(message).message().as_bytes(linesep="\r\n")
    assert max(map(len, raw.split(b"\r\n"))) <= 998  # RFC 5322 s.2.1.1
    return email.message_from_bytes(raw, policy=email.policy.default)  # type: ignore[return-value]


def written(read: EmailMessage) -> str:
    """The body without the line that closes every mail: how large the ledger is, and where it is checked."""
    body, _, closing = read.get_content().replace("\r\n", "\n").rstrip("\n").rpartition("\n\n")
    assert closing.startswith("Our custody ledger holds ")
    return str(body)


@pytest.mark.parametrize(
    "subject", ["26-00417-K: it is ready", "Žofie – ਤਿਆਰ ਹੈ – 準備好了", "ü" * 300, "word " * 59 + "five!", "x" * 300]
)
def test_a_subject_arrives_as_it_was_written(make: Make, subject: str) -> None:
    # A long first word is folded onto a line of its own; the blank after the colon is no part of the subject.
    assert arrived(make, subject=subject)["Subject"].lstrip(" ") == subject


@pytest.mark.parametrize("end", ["\r\n", "\n", "\r", "\u2028", "\x0b", "\x85"])
def test_nothing_in_a_subject_starts_a_header_of_its_own(make: Make, end: str) -> None:
    read = arrived(make, subject=f"Ready{end}Bcc: everyone@example.com{end}{end}Body")
    assert read["Bcc"] is None
    assert read["Subject"] == "Ready Bcc: everyone@example.com Body"
    assert written(read) == "B"


def test_nothing_in_the_labs_name_starts_a_header_of_its_own(make: Make) -> None:
    make.profile(name='Quayside "Lab", Ltd\r\nBcc: everyone@example.com', email="desk@lab.example.com")
    read = arrived(make)
    assert read["Bcc"] is None
    assert [address.addr_spec for address in read["From"].addresses] == ["desk@lab.example.com"]
    assert [address.addr_spec for address in read["Reply-To"].addresses] == ["desk@lab.example.com"]


@pytest.mark.parametrize("body", ["Dear Žofie,\n\nready.", "ਸਤ ਸ੍ਰੀ ਅਕਾਲ\nਤਿਆਰ", "From here\n.\n..two", "long " * 3000])
def test_a_body_arrives_as_it_was_written(make: Make, body: str) -> None:
    read = arrived(make, body=body)
    assert read.get_content_type() == "text/plain"
    assert written(read) == body.strip()


def test_each_header_that_may_stand_once_stands_once(make: Make) -> None:
    """RFC 5322 s.3.6: From, To, Subject, Date, Message-ID, Reply-To."""
    make.profile(email="desk@lab.example.com")
    read = arrived(make)
    for name in ("From", "To", "Subject", "Date", "Message-ID", "Reply-To"):
        assert len(read.get_all(name)) == 1
    assert not read["Message-ID"].defects
    assert not read["Date"].defects
