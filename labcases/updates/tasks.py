"""The outbox: what the worker does with mails that wait, and how a mail looks on the wire.

A mail's Message-ID and date come from its row, so that a mail which is sent twice (a worker was killed between sending
and noting it) is the same mail to every program that reads it (RFC 5322 s.3.6.4).
"""

from __future__ import annotations

import logging
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime, formataddr, parseaddr

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction
from django.db.models import F, QuerySet
from django.urls import reverse
from django.utils import timezone

from labcases.core import vault
from labcases.core.text import one_line
from labcases.custody.actions import keep_head, record, recorded
from labcases.lab.models import Actor, Profile
from labcases.updates import retrying
from labcases.updates.models import Message
from labcases.updates.witnesses import wording

log = logging.getLogger(__name__)

LEASE = timedelta(minutes=5)  # longer than a mail can take: nine steps of EMAIL_TIMEOUT
BATCH = 20
OVER_THE_WIRE = "django.core.mail.backends.smtp.EmailBackend"
NOWHERE = "@localhost"  # ends the address that stands in for EMAIL_FROM when it is not set


# --- how a mail looks -------------------------------------------------------------------------------------------


def hindrance() -> str:
    """Why no mail can go out, in a sentence; empty when it can. Mails wait until this is mended."""
    if settings.EMAIL_BACKEND != OVER_THE_WIRE:
        return ""
    if not settings.EMAIL_HOST:
        return "No mail server is set: whoever runs the server sets EMAIL_HOST. Mails wait in the outbox until then."
    if _own_address(Profile.current()).endswith(NOWHERE):
        return "The lab has no e-mail address: a manager enters it in the lab's profile. Mails wait until then."
    return ""


def letter(message: Message) -> EmailMessage:
    """The mail of a message, plain text, from the lab, with the paper that goes along."""
    profile, body = Profile.current(), message.body
    headers = {
        "Message-ID": f"<{message.ref}@{domain_of(profile)}>",
        "Date": format_datetime(message.entered.astimezone(UTC)),
    }
    # Whoever has the mail is a witness of the ledger: the head that it carries is kept for ever.
    if kept := keep_head(because="sent with a mail"):
        head = kept.as_signed().as_record()
        body, headers[wording.HEADER] = f"{body}\n\n{wording.closing(head, where_to_check())}", wording.header(head)
    mail = mail_from_lab(profile, message.subject, body, message.with_whom, headers)
    if paper := message.attached:
        mail.attach(f"{paper}.pdf", vault.get(paper.sha256), "application/pdf")
    return mail


def test_mail(to: str) -> EmailMessage:
    """A mail that only shows that mail works."""
    profile = Profile.current()
    body = f"This is a test. If you can read it, {profile.name} can send mail to its customers."
    return mail_from_lab(profile, "A test from the lab", body, to, {})


def sender() -> str:
    """Whom a mail comes from, as people read it."""
    profile = Profile.current()
    return f"{profile.name} <{_own_address(profile)}>"


def where_to_check() -> str:
    """The address at which anybody sees the ledger's key and its newest head."""
    return settings.SITE_URL + reverse("custody:public-key")


def domain_of(profile: Profile) -> str:
    """What stands behind the @ of a Message-ID."""
    return _own_address(profile).rpartition("@")[2].encode("idna").decode("ascii")


def mail_from_lab(profile: Profile, subject: str, body: str, to: str, headers: dict[str, str]) -> EmailMessage:
    """A plain mail, answers to it go to the lab."""
    from_whom = formataddr((one_line(profile.name), _own_address(profile)))
    answers = [profile.email] if profile.email else None
    return EmailMessage(subject, body, from_whom, [to], reply_to=answers, headers=headers)


def _own_address(profile: Profile) -> str:
    """EMAIL_FROM where it is set, since mail servers let nobody write as somebody else; else the profile's."""
    from_settings = parseaddr(settings.DEFAULT_FROM_EMAIL)[1]
    return profile.email if from_settings.endswith(NOWHERE) and profile.email else from_settings


# --- sending ----------------------------------------------------------------------------------------------------


def send_waiting(now: datetime | None = None) -> int:
    """Send what waits in the outbox and is due; gives how many went out. The worker calls it every few seconds.

    Any number of workers may run it at once: each mail is claimed by a conditional update with a lease, and a mail
    whose worker was killed is taken up again when the lease has run out. Call it outside any transaction.
    """
    if hindrance():
        return 0
    due = Message.objects.to_send(now or timezone.now()).order_by("due", "pk")
    return sum(_send_one(pk, now) for pk in list(due.values_list("pk", flat=True)[:BATCH]))


def _send_one(pk: int, now: datetime | None) -> int:
    message = _claim(pk, now or timezone.now())
    if message is None:
        return 0
    if message.tries > retrying.TRIES:
        _give_up(message, f"The worker ended {retrying.TRIES} times while it was sending this mail.")
        return 0
    try:
        letter(message).send()
    except (vault.Damaged, FileNotFoundError):
        _give_up(
            message,
            "The stored paper that goes along is missing or was changed on the disk. Print it anew and write again.",
        )
        return 0
    except (OSError, ValueError) as error:  # every failure of smtplib, the network, and a header that is refused
        _note_failure(message, retrying.trouble(error), now or timezone.now())
        return 0
    _note_sent(message, now or timezone.now())
    return 1


def _claim(pk: int, now: datetime) -> Message | None:
    """Take this message for the length of a lease; None when another worker was faster.

    ``durable`` refuses to run inside a transaction: the claim is on disk before the mail goes out.
    """
    with transaction.atomic(durable=True):
        mine = Message.objects.to_send(now).filter(pk=pk).update(held_until=now + LEASE, tries=F("tries") + 1)
    return Message.objects.select_related("case__thing", "attached").get(pk=pk) if mine else None


def _note_sent(message: Message, now: datetime) -> None:
    """It is out. True also when the lease ran out meanwhile: then nobody needs to send it again."""
    waiting = Message.objects.filter(pk=message.pk, state=Message.State.WAITING)
    waiting.update(state=Message.State.SENT, sent=now, held_until=None, error="")


def _note_failure(message: Message, trouble: retrying.Trouble, now: datetime) -> None:
    log.warning("Message %s was not sent, try %s: %s", message.pk, message.tries, trouble.sentence)
    wait = None if trouble.for_good else retrying.next_try(message.tries)
    if wait is None:
        _give_up(message, trouble.sentence)
    else:
        _held(message).update(due=now + wait, held_until=None, error=trouble.sentence)


@recorded
def _give_up(message: Message, sentence: str) -> None:
    """Nobody will try by themselves any more: said in the ledger, since it had said that the customer was told."""
    if not _held(message).update(state=Message.State.FAILED, held_until=None, error=sentence):
        return
    because, case = f"e-mail “{message.subject}” could not be sent: {sentence}", message.case
    worker, now = Actor.worker(), timezone.now()
    record("not-told", thing=case.thing, by=worker, happened=now, because=because, case=case.code)


def _held(message: Message) -> QuerySet[Message]:
    """The message while this worker still holds it: another lease ends at another moment."""
    return Message.objects.filter(pk=message.pk, state=Message.State.WAITING, held_until=message.held_until)
