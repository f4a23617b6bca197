"""What a failure is called. Codes as in RFC 5321 s.4.2: 4yz is for now, 5yz for good."""

from __future__ import annotations

import smtplib
import socket
import ssl
from datetime import timedelta

import pytest

from labcases.updates.retrying import TRIES, WAITS, next_try, trouble


@pytest.mark.parametrize(
    ("error", "for_good"),
    [
        (smtplib.SMTPRecipientsRefused({"a@example.com": (450, b"greylisted")}), False),
        (smtplib.SMTPRecipientsRefused({"a@example.com": (550, b"no such user")}), True),
        (smtplib.SMTPDataError(554, b"looks like spam"), True),
        (smtplib.SMTPDataError(451, b"try later"), False),
        (smtplib.SMTPAuthenticationError(535, b"no"), False),
        (smtplib.SMTPSenderRefused(550, b"no", "desk@lab.example.com"), False),
        (smtplib.SMTPConnectError(554, b"no"), False),
        (smtplib.SMTPServerDisconnected("gone"), False),
        (smtplib.SMTPNotSupportedError("SMTPUTF8"), False),
        (TimeoutError("timed out"), False),
        (socket.gaierror(-2, "Name or service not known"), False),
        (ssl.SSLError(1, "WRONG_VERSION_NUMBER"), False),
        (ConnectionRefusedError(111, "Connection refused"), False),
        (ValueError("Header values can't contain newlines"), True),
    ],
)
def test_a_failure_is_a_sentence_and_final_only_when_trying_again_cannot_help(error: Exception, for_good: bool) -> None:
    said = trouble(error)
    assert said.for_good is for_good
    assert said.sentence.endswith(".")
    assert "\n" not in said.sentence


def test_what_a_server_says_is_cut_and_cleaned() -> None:
    said = trouble(smtplib.SMTPDataError(554, b"\x1b[31m" + b"spam\r\n" * 500 + b"\xff"))
    assert len(said.sentence) < 500
    assert said.sentence.isprintable()


def test_waits_grow_and_end() -> None:
    assert list(WAITS) == sorted(WAITS)
    assert [next_try(n) for n in (1, TRIES - 1, TRIES)] == [timedelta(minutes=1), timedelta(days=1), None]
    assert timedelta(days=1) < sum(WAITS, timedelta()) < timedelta(days=5)
