"""The ledger: its head, its tree, its events and their words.

What can never be false: an event is never changed or removed (triggers in the database refuse it), its number follows
the one before it, and its bytes are kept as hashed.
"""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Q

from labcases.core.models import Line, Prose
from labcases.custody.signing import SignedHead


class Head(models.Model):
    """The ledger's head: one row, locked first by everything that records."""

    sequence = models.PositiveBigIntegerField(default=0)
    digest = Line(personal=False, max_length=64, blank=True, help_text="leaf hash of the last event, hex")
    peaks = models.JSONField(default=list, help_text="hashes of the largest complete subtrees, left to right, hex")
    root = Line(personal=False, max_length=64, blank=True, help_text="root over all events, RFC 9162, hex")
    signed = Line(personal=False, max_length=40, blank=True, help_text="when it was signed, RFC 3339")
    signature = Line(personal=False, max_length=128, blank=True, help_text="Ed25519, hex")
    key = Line(personal=False, max_length=64, blank=True, help_text="public key this ledger was begun with, hex")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(pk=1), name="one_ledger_head", violation_error_message="The ledger has one head."
            )
        ]

    def __str__(self) -> str:
        return f"event {self.sequence}"

    def as_signed(self) -> SignedHead:
        return SignedHead(self.sequence, self.root, self.signed, self.signature, self.key)


class TreeNode(models.Model):
    """A complete subtree's hash, above the leaves (those are the events' own digests). Never changes."""

    level = models.PositiveSmallIntegerField()
    index = models.PositiveBigIntegerField()
    digest = Line(personal=False, max_length=64)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["level", "index"], name="one_tree_node", violation_error_message="A subtree has one hash."
            )
        ]

    def __str__(self) -> str:
        return f"node {self.level}/{self.index}"


class KeptHead(models.Model):
    """A signed head that is kept for ever: one a day, one at each handover, and whatever a witness was sent."""

    size = models.PositiveBigIntegerField(unique=True)
    root = Line(personal=False, max_length=64)
    signed = Line(personal=False, max_length=40)
    signature = Line(personal=False, max_length=128)
    key = Line(personal=False, max_length=64)
    because = Line(personal=False, max_length=100)

    class Meta:
        ordering = ["-size"]

    def __str__(self) -> str:
        return f"head of {self.size} events"

    def as_signed(self) -> SignedHead:
        return SignedHead(self.size, self.root, self.signed, self.signature, self.key)


class LedgerCheck(models.Model):
    """One walk through the whole ledger, as the worker does every night, and what it found."""

    started = models.DateTimeField()
    ended = models.DateTimeField()
    size = models.PositiveBigIntegerField(help_text="events walked through")
    holds = models.BooleanField()
    findings = models.JSONField(default=list, help_text="detector, sequence and sentence of each, the first ones")

    class Meta:
        ordering = ["-ended", "-pk"]

    def __str__(self) -> str:
        return f"check of {self.size} events"


class NeverChanged(models.QuerySet["Event"]):
    def update(self, **changes: Any) -> int:
        raise TypeError("Events are history: record a correction instead.")

    def delete(self) -> Any:
        raise TypeError("Events are history: record a correction instead.")


class Event(models.Model):
    """One event. ``body`` holds the canonical bytes that were hashed; the columns beside it only serve searching."""

    sequence = models.PositiveBigIntegerField(primary_key=True)
    body = models.BinaryField()
    digest = Line(personal=False, max_length=64, unique=True, help_text="leaf hash of the body, hex")
    kind = Line(personal=False, max_length=40)
    thing_code = Line(personal=False, max_length=30, blank=True)
    case_code = Line(personal=False, max_length=30, blank=True)
    actor_ref = Line(personal=False, max_length=36, blank=True)
    role = Line(personal=False, max_length=20)
    happened = models.DateTimeField()
    entered = models.DateTimeField()
    corrects = models.PositiveBigIntegerField(null=True)

    objects = NeverChanged.as_manager()

    class Meta:
        ordering = ["sequence"]
        indexes = [
            models.Index(fields=["case_code", "-sequence"], name="event_of_case"),
            models.Index(fields=["thing_code", "-sequence"], name="event_of_thing"),
            models.Index(fields=["corrects"], condition=Q(corrects__isnull=False), name="event_that_corrects"),
        ]

    def __str__(self) -> str:
        return f"{self.sequence} {self.kind}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError("Events are history: record a correction instead.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> Any:
        raise TypeError("Events are history: record a correction instead.")


class EventText(models.Model):
    """The words and names of an event, kept beside the ledger so that they can be erased.

    The ledger holds only their salted commitments: with text and salt gone, the chain still verifies.
    """

    sequence = models.PositiveBigIntegerField()
    field = Line(personal=False, max_length=20)
    salt = models.BinaryField(max_length=32)
    text = Prose(personal=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["sequence", "field"],
                name="one_text_per_event_and_field",
                violation_error_message="An event has one text of each kind.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.sequence} {self.field}"
