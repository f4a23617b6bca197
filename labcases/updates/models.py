"""Wordings and messages. A message is a row first; the worker sends it, and what was sent is never edited."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import Q
from django.urls import reverse

from labcases.cases.models import Case
from labcases.core.models import Line, Prose, now
from labcases.lab.models import Entry
from labcases.paper.models import Paper
from labcases.updates.witnesses.models import HeadMail  # noqa: F401 known to the room through here


class Wording(models.Model):
    """A text with gaps, in one language, for one occasion, as this lab words it.

    It stands in front of the default of the same key and language (``defaults.py``), which has no row.
    """

    key = Line(personal=False, max_length=60)
    language = Line(personal=False, max_length=10, default="en")
    title = Line(personal=False, max_length=200, help_text="what the staff choose by")
    subject = Line(personal=False, max_length=200)
    body = Prose(personal=False)
    in_use = models.BooleanField(default=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["key", "language"],
                name="one_wording_per_key_and_language",
                violation_error_message="There is a wording of this name in this language already.",
            )
        ]

    def __str__(self) -> str:
        return self.title


def _free(now: object) -> Q:
    """In nobody's hands, or in the hands of a worker that has been silent for too long."""
    return Q(held_until=None) | Q(held_until__lt=now)


class MessageQuerySet(models.QuerySet["Message"]):
    def to_send(self, now: object) -> MessageQuerySet:
        """Waiting and due, and not in the hands of a live worker."""
        return self.filter(_free(now), state=Message.State.WAITING, due__lte=now)

    def to_decide(self, now: object) -> MessageQuerySet:
        """Not sent, and in nobody's hands: somebody may try again or leave it."""
        waiting = Q(state=Message.State.WAITING) & _free(now)
        return self.filter(waiting | Q(state=Message.State.FAILED))

    def unsent(self) -> MessageQuerySet:
        """What the customer should have and has not."""
        return self.filter(state__in=[Message.State.WAITING, Message.State.FAILED])

    def reached_or_under_way(self) -> MessageQuerySet:
        """A word that was had with the customer, or that will go out by itself."""
        return self.exclude(state__in=[Message.State.FAILED, Message.State.UNSENT])


class Message(Entry):
    """A word to or from the customer: an e-mail in the outbox, a call or a chat that was had."""

    class Channel(models.TextChoices):
        EMAIL = "email", "e-mail"
        PHONE = "phone", "phone call"
        CHAT = "chat", "chat"
        POST = "post", "letter"
        PERSON = "person", "in person"

    class State(models.TextChoices):
        WAITING = "waiting", "waits to be sent"
        SENT = "sent", "sent"
        FAILED = "failed", "could not be sent"
        NOTED = "noted", "noted"
        UNSENT = "unsent", "not sent after all"

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="messages")
    ref = models.UUIDField(
        default=uuid.uuid4, unique=True, editable=False, help_text="names the mail, so that it is sent once"
    )
    channel = Line(personal=False, max_length=10, choices=Channel.choices)
    incoming = models.BooleanField(default=False, help_text="the customer said it")
    wording = Line(personal=False, max_length=60, blank=True, help_text="key of the wording it began from")
    with_whom = Line(personal=True, max_length=300, help_text="address or name")
    subject = Line(personal=True, max_length=300, blank=True)
    body = Prose(personal=True)
    attached = models.ForeignKey(
        Paper, null=True, blank=True, on_delete=models.PROTECT, related_name="+", help_text="goes along with the mail"
    )
    agreed = Prose(personal=True, blank=True, help_text="what was agreed")
    state = Line(personal=False, max_length=10, choices=State.choices)
    due = models.DateTimeField(default=now)
    held_until = models.DateTimeField(null=True, blank=True)
    tries = models.PositiveSmallIntegerField(default=0)
    error = Prose(personal=True, blank=True)
    sent = models.DateTimeField(null=True, blank=True)

    objects = MessageQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["state", "due"], name="message_to_send")]
        constraints = [
            models.CheckConstraint(
                condition=Q(channel="email", incoming=False) | Q(state="noted"),
                name="only_mail_is_sent",
                violation_error_message="A call or a chat is noted; only an e-mail is sent.",
            ),
            models.CheckConstraint(
                condition=~Q(state="sent") | Q(sent__isnull=False),
                name="sent_message_says_when",
                violation_error_message="A sent message says when.",
            ),
            models.CheckConstraint(
                condition=Q(attached=None) | Q(channel="email"),
                name="paper_goes_with_mail",
                violation_error_message="Only an e-mail takes a paper along.",
            ),
        ]

    def __str__(self) -> str:
        return self.subject or self.get_channel_display()

    def get_absolute_url(self) -> str:
        return f"{reverse('docket:case', args=[self.case.thing.printed_code])}#messages"
