"""The verbs of talking to customers.

A mail is a row first, written in the transaction that says so in the ledger; the worker sends it afterwards
(``tasks.py``), outside any transaction.
"""

from __future__ import annotations

import secrets
from datetime import datetime

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.text import slugify

from labcases.cases.models import Case
from labcases.core.refused import Refused
from labcases.core.text import many_lines, one_line
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right
from labcases.paper.models import Paper
from labcases.updates import retrying, tasks, wordings
from labcases.updates.defaults import BY_KEY
from labcases.updates.models import Message, Wording

LONGEST_SUBJECT, LONGEST_ADDRESS = 300, 254


class NotAnAddress(Refused):
    """What stands in the field is no e-mail address."""


class NotOfThisCase(Refused):
    """A paper of another case would go to this customer."""


class NotFinished(Refused):
    """A mail that has still something to be written in it."""


class NotSent(Refused):
    """The mail server did not take a mail."""


class NothingToDecide(Refused):
    """The message is sent, or being sent at this moment."""


# --- words to and from the customer -----------------------------------------------------------------------------


@recorded
def send_update(
    *,
    case: Case,
    to: str,
    subject: str,
    body: str,
    by: Actor,
    happened: datetime,
    wording: str | None = None,
    attached: Paper | None = None,
) -> Message:
    """Put a mail into the outbox; the worker sends it within seconds.

    ``wording`` is the key of the wording it began from: the moment it tells of (``ready``, ``received`` …).
    ``attached`` is a printed paper of this case that goes along, byte for byte.
    Raises NotAnAddress, NotOfThisCase, or NotFinished when subject or body are empty or hold a spot that is still to
    be written.
    """
    by.must(Right.TELL)
    if attached and attached.case_code != case.code:
        raise NotOfThisCase("This paper belongs to another case.", mend="Attach a paper of this case.")
    message = Message.objects.create(
        case=case,
        channel=Message.Channel.EMAIL,
        state=Message.State.WAITING,
        wording=wording or "",
        with_whom=_address(to),
        subject=_subject(subject),
        body=_body(subject, body),
        attached=attached,
        **Entry.stamp(by, happened),
    )
    record("told", thing=case.thing, by=by, happened=happened, because=_mail(message), case=case.code)
    return message


@recorded
def note_call(
    *,
    case: Case,
    channel: str,
    incoming: bool,
    with_whom: str,
    body: str,
    by: Actor,
    happened: datetime,
    agreed: str = "",
    wording: str | None = None,
) -> Message:
    """Keep a call, a chat, a letter or a talk: with whom, what was said, what was agreed.

    ``incoming`` when it was the customer who had something to say. ``wording`` as in ``send_update``.
    Raises NotFinished without a name or a word.
    """
    by.must(Right.TELL)
    with_whom, body, agreed = one_line(with_whom), many_lines(body), many_lines(agreed)
    if not with_whom or not body:
        raise NotFinished("Say with whom it was, and what was said.")
    note = Message.objects.create(
        case=case,
        channel=Message.Channel(channel),
        state=Message.State.NOTED,
        incoming=incoming,
        wording=wording or "",
        with_whom=with_whom[:300],
        body=body,
        agreed=agreed,
        **Entry.stamp(by, happened),
    )
    said = f"{note.get_channel_display()}, {note.with_whom}: {one_line(agreed or body)}"
    kind = "heard" if incoming else "told"
    record(kind, thing=case.thing, by=by, happened=happened, because=_cut(said), case=case.code)
    return note


@recorded
def try_again(*, message: Message, by: Actor, happened: datetime) -> Message:
    """Send a mail that failed or waits, now, with all its tries before it. Raises NothingToDecide."""
    by.must(Right.TELL)
    now = timezone.now()
    _decide(message, now).update(state=Message.State.WAITING, due=now, tries=0, held_until=None)
    because = f"{_mail(message)}, tried again"
    record("told", thing=message.case.thing, by=by, happened=happened, because=because, case=message.case.code)
    message.refresh_from_db()
    return message


@recorded
def leave_unsent(*, message: Message, by: Actor, happened: datetime) -> Message:
    """Take a mail that has not gone out of the outbox: it stays on file as not sent. Raises NothingToDecide."""
    by.must(Right.TELL)
    _decide(message, timezone.now()).update(state=Message.State.UNSENT, held_until=None)
    because = f"{_mail(message)}, not sent after all"
    record("not-told", thing=message.case.thing, by=by, happened=happened, because=because, case=message.case.code)
    message.refresh_from_db()
    return message


def _decide(message: Message, now: datetime) -> QuerySet[Message]:
    """The message as a queryset, when it is free; the ledger's lock keeps two people from deciding at once."""
    free = Message.objects.to_decide(now).filter(pk=message.pk)
    if not free.exists():
        message.refresh_from_db()
        said = "is being sent at this moment" if message.state == Message.State.WAITING else "is no longer waiting"
        raise NothingToDecide(
            f"This message {said}.",
            why=f"It is on file as: {message.get_state_display()}.",
            mend="Reload the page and look again.",
        )
    return free


def _address(text: str) -> str:
    address = one_line(text)
    try:
        validate_email(address)
    except ValidationError:
        raise NotAnAddress(
            f"“{_cut(address, 100)}” is not an e-mail address." if address else "Say to which address it goes.",
            mend="Give one address, like name@example.com.",
        ) from None
    if len(address) > LONGEST_ADDRESS:
        raise NotAnAddress(f"This address has {len(address)} characters; {LONGEST_ADDRESS} is the most there can be.")
    return address


def _subject(text: str) -> str:
    """One line without control characters: nothing in it can start a header of its own."""
    subject = one_line(text)
    if not subject:
        raise NotFinished("Give the mail a subject.")
    if len(subject) > LONGEST_SUBJECT:
        raise NotFinished(f"The subject has {len(subject)} characters; {LONGEST_SUBJECT} fit.", mend="Shorten it.")
    return subject


def _body(subject: str, text: str) -> str:
    body = many_lines(text)
    if not body:
        raise NotFinished("The mail says nothing yet.", mend="Write it, or choose a wording.")
    if spots := wordings.still_open(subject, body):
        raise NotFinished(
            f"Still to be written: {'; '.join(spots)}.",
            mend="Put your own words where the double brackets stand, or take the line out.",
        )
    return body


def _mail(message: Message) -> str:
    along = f" with {message.attached}" if message.attached else ""
    return f"e-mail “{message.subject}”{along}"


def _cut(text: str, most: int = 300) -> str:
    return text if len(text) <= most else f"{text[: most - 1]}…"


# --- mail at once -----------------------------------------------------------------------------------------------


def send_test(*, by: Actor, to: str) -> str:
    """Send a mail at once, to see whether the settings work; gives the address. Call it outside any transaction.

    Raises NotAnAddress, or NotSent with what the mail server said.
    """
    by.must(Right.KEEP_LAB)
    address = _address(to)
    if said := tasks.hindrance():
        raise NotSent("No mail can go out yet.", why=said)
    try:
        tasks.test_mail(address).send()
    except (OSError, ValueError) as error:
        raise NotSent("The test mail did not go out.", why=retrying.trouble(error).sentence) from error
    return address


# --- wordings ---------------------------------------------------------------------------------------------------


@recorded
def save_wording(
    *,
    title: str,
    subject: str,
    body: str,
    by: Actor,
    happened: datetime,
    key: str = "",
    language: str = "en",
    in_use: bool = True,
) -> Wording:
    """Write a wording of the lab's own, or its own words in place of a default (same ``key`` and ``language``).

    Without a key a new one is made from the title. Raises NotFinished for an unknown gap, naming it.
    """
    by.must(Right.KEEP_LAB)
    title, subject, body = one_line(title), one_line(subject), many_lines(body)
    _check_gaps(subject, body)
    key = key or _new_key(title, language)
    said = {"title": title, "subject": subject, "body": body, "in_use": in_use}
    wording, _ = Wording.objects.update_or_create(key=key, language=language, defaults=said)
    record("lab-changed", thing=None, by=by, happened=happened, because=f"wording “{title}”")
    return wording


@recorded
def drop_wording(*, wording: Wording, by: Actor, happened: datetime) -> None:
    """Take the lab's own words away; where there is a default, it counts again. Messages keep what they said."""
    by.must(Right.KEEP_LAB)
    Wording.objects.filter(pk=wording.pk).delete()
    record("lab-changed", thing=None, by=by, happened=happened, because=f"wording “{wording.title}” taken away")


def _check_gaps(*texts: str) -> None:
    try:
        for text in texts:
            wordings.gaps_in(text)
    except wordings.BadWording as wrong:
        raise NotFinished(str(wrong)) from None


def _new_key(title: str, language: str) -> str:
    """A key nobody uses yet; titles in other alphabets get one of letters and digits."""
    key = slugify(title)[:50].strip("-")
    if not key or Wording.objects.filter(key=key, language=language).exists() or key in BY_KEY:
        key = f"{key or 'wording'}-{secrets.token_hex(3)}"
    return key
