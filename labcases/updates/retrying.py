"""When a mail that could not be sent is tried again, and what the failure is called.

>>> next_try(1), next_try(TRIES)
(datetime.timedelta(seconds=60), None)
>>> trouble(TimeoutError())
Trouble(sentence='The mail server did not answer in time.', for_good=False)
"""

from __future__ import annotations

import smtplib
import socket
import ssl
from dataclasses import dataclass
from datetime import timedelta

from labcases.core.text import one_line

# Growing waits, about two days in all: a mail server that is down for a night or a day is no reason to give up
# (RFC 5321 s.4.5.4.1 asks for at least 30 minutes between later tries, and four to five days at most).
WAITS = (
    timedelta(minutes=1),
    timedelta(minutes=10),
    timedelta(minutes=30),
    timedelta(hours=2),
    timedelta(hours=8),
    timedelta(hours=16),
    timedelta(hours=24),
)
TRIES = len(WAITS) + 1


@dataclass(frozen=True)
class Trouble:
    """A failure in a sentence; ``for_good`` when trying the same again cannot help."""

    sentence: str
    for_good: bool = False


def next_try(tries: int) -> timedelta | None:
    """How long to wait after ``tries`` tries, or None when that was the last."""
    return WAITS[tries - 1] if 1 <= tries < TRIES else None


def trouble(error: Exception) -> Trouble:
    """What went wrong, for the person who looks at the message."""
    if isinstance(error, smtplib.SMTPException):
        return _said_by_the_server(error)
    if isinstance(error, TimeoutError):
        return Trouble("The mail server did not answer in time.")
    if isinstance(error, socket.gaierror):
        return Trouble("The mail server's name is not known. Check EMAIL_HOST and the network.")
    if isinstance(error, ssl.SSLError):
        return Trouble(
            f"The mail server offers no secure connection we can use: {_short(getattr(error, 'reason', '') or error)}."
        )
    if isinstance(error, OSError):
        return Trouble(f"The mail server cannot be reached: {_short(error.strerror or error)}.")
    return Trouble(f"This mail cannot be written as it stands: {_short(error)}.", for_good=True)


def _said_by_the_server(error: smtplib.SMTPException) -> Trouble:
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        code, reply = next(iter(error.recipients.values()), (0, b""))
        return Trouble(f"The mail server refuses this address: {code} {_short(reply)}.", _is_final(code))
    if isinstance(error, smtplib.SMTPAuthenticationError):
        return Trouble("The mail server does not accept our log-in. Check EMAIL_USER and EMAIL_PASSWORD.")
    if isinstance(error, smtplib.SMTPSenderRefused):
        return Trouble(f"The mail server does not let us write as {error.sender}. Check EMAIL_FROM.")
    if isinstance(error, smtplib.SMTPDataError):
        words = f"{error.smtp_code} {_short(error.smtp_error)}"
        return Trouble(f"The mail server refuses this mail: {words}.", _is_final(error.smtp_code))
    if isinstance(error, smtplib.SMTPResponseException):
        return Trouble(f"The mail server does not take mail now: {error.smtp_code} {_short(error.smtp_error)}.")
    if isinstance(error, smtplib.SMTPServerDisconnected):
        return Trouble("The mail server hung up before it took the mail.")
    return Trouble(f"The mail server and our settings do not fit: {_short(error)}.")


def _is_final(code: int) -> bool:
    """RFC 5321 s.4.2.1: a reply of 5yz says not to try the same again, 4yz says to try later."""
    return 500 <= code < 600


def _short(words: object) -> str:
    text = words.decode("utf-8", "replace") if isinstance(words, bytes) else str(words)
    return one_line(text)[:400].rstrip(".")
