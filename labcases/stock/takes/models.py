"""Stocktakes: what was expected where, what was counted where, and how each difference was answered.

What can never be false: a code stands once in a stocktake, whoever scans it; what is counted says where, when and by
whom; a signed stocktake says who signed.
"""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Count, Q
from django.urls import reverse

from labcases.core import codes
from labcases.core.models import Line, Prose
from labcases.custody.models import Thing
from labcases.lab.models import Entry, Place


class Stocktake(Entry):
    """One stocktake of one or several places. ``happened`` is when it was begun and what lies there was listed."""

    class State(models.TextChoices):
        OPEN = "open", "open"
        SIGNED = "signed off", "signed off"
        DROPPED = "dropped", "dropped"

    words = Line(personal=False, max_length=100, blank=True, help_text="what it is for")
    places = models.ManyToManyField(Place, related_name="stocktakes")
    state = Line(personal=False, max_length=12, choices=State.choices, default=State.OPEN)
    ended = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    ended_role = Line(personal=False, max_length=20, blank=True)
    because = Prose(personal=False, blank=True, help_text="what whoever signed it said, or why it was dropped")

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(state="open", ended=None) | Q(~Q(state="open"), ended__isnull=False),
                name="stocktake_that_is_over_says_when",
                violation_error_message="A stocktake that was signed off or dropped says when.",
            )
        ]

    def __str__(self) -> str:
        return self.words or f"stocktake {self.pk}"

    def get_absolute_url(self) -> str:
        return reverse("stock:take", args=[self.pk])


class TakeLineQuerySet(models.QuerySet["TakeLine"]):
    def with_context(self) -> TakeLineQuerySet:
        """Everything a line prints."""
        thing = ("thing__place", "thing__staff", "thing__party")
        return self.select_related(*thing, "expected_at", "found_at", "counted_by")

    def differing(self) -> TakeLineQuerySet:
        """Those that are not found where the book says."""
        return self.exclude(outcome=TakeLine.Outcome.FOUND)

    def counts(self) -> dict[str, int]:
        """How many lines have each outcome."""
        rows = dict(self.order_by().values_list("outcome").annotate(Count("pk")))
        return {outcome.value: rows.get(outcome.value, 0) for outcome in TakeLine.Outcome}


class TakeLine(models.Model):
    """One code of a stocktake: expected, counted, or both."""

    class Outcome(models.TextChoices):
        EXPECTED = "expected", "expected, not found yet"
        FOUND = "found", "found"
        MISPLACED = "misplaced", "found on another shelf"
        UNEXPECTED = "unexpected", "not expected here"
        UNKNOWN = "unknown", "unknown code"

    class Answer(models.TextChoices):
        HERE = "here", "lies here now"
        BACK = "back", "carried back to where it belongs"
        MISSING = "missing", "missing"
        NOTED = "noted", "noted"

    take = models.ForeignKey(Stocktake, on_delete=models.CASCADE, related_name="lines")
    code = Line(personal=False, max_length=40, help_text="folded; or what was read, when it is no code of ours")
    thing = models.ForeignKey(Thing, null=True, on_delete=models.PROTECT, related_name="+")
    expected_at = models.ForeignKey(Place, null=True, on_delete=models.PROTECT, related_name="+")
    found_at = models.ForeignKey(Place, null=True, on_delete=models.PROTECT, related_name="+")
    outcome = Line(personal=False, max_length=12, choices=Outcome.choices)
    counted = models.DateTimeField(null=True)
    counted_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    answer = Line(personal=False, max_length=10, choices=Answer.choices, blank=True)
    because = Prose(personal=False, blank=True)

    objects = TakeLineQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["take", "outcome"], name="take_line_by_outcome")]
        constraints = [
            models.UniqueConstraint(
                fields=["take", "code"],
                name="code_once_per_stocktake",
                violation_error_message="This code was counted already.",
            ),
            models.CheckConstraint(
                condition=Q(found_at=None, counted=None, outcome="expected")
                | Q(~Q(outcome="expected"), found_at__isnull=False, counted__isnull=False),
                name="counted_line_says_where_and_when",
                violation_error_message="What is counted says where and when.",
            ),
            models.CheckConstraint(
                condition=Q(
                    expected_at__isnull=False, thing__isnull=False, outcome__in=["expected", "found", "misplaced"]
                )
                | Q(expected_at=None, outcome__in=["unexpected", "unknown"]),
                name="take_line_was_expected_or_not",
                violation_error_message="What was expected has a place where the book says it lies.",
            ),
        ]

    def __str__(self) -> str:
        return codes.printed(self.code) if self.thing_id else self.code

    @property
    def moved_meanwhile(self) -> str:
        """Where the book says it went since the stocktake began; empty when it still says the same."""
        thing: Any = self.thing
        if thing is None or self.outcome != TakeLine.Outcome.EXPECTED or thing.place_id == self.expected_at_id:
            return ""
        if self.answer == TakeLine.Answer.MISSING:
            return ""  # that is why the book says it no more
        return str(thing.whereabouts)
