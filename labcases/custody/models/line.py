"""Breaks in lines of custody, as they were found when the event was recorded."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.urls import reverse

from labcases.core.models import Line
from labcases.custody import lines
from labcases.custody.models.thing import Thing


class Break(models.Model):
    """Something in the line of a thing that does not fit. It is never taken away, only answered."""

    thing = models.ForeignKey(Thing, on_delete=models.PROTECT, related_name="breaks")
    event = models.PositiveBigIntegerField(help_text="sequence of the event at which it shows")
    kind = Line(personal=False, max_length=20, choices=[(kind, kind) for kind in lines.GRADE_OF])
    grade = Line(personal=False, max_length=20, choices=[(grade, grade) for grade in lines.GRADES])
    detail = Line(personal=False, max_length=100, blank=True, help_text="number of a seal")
    happened = models.DateTimeField(help_text="when that event is said to have happened")
    answered = models.PositiveBigIntegerField(null=True, help_text="sequence of the correction that answers it")

    class Meta:
        ordering = ["-event", "-pk"]
        indexes = [models.Index(fields=["grade", "-event"], condition=Q(answered=None), name="break_not_answered")]
        constraints = [
            models.UniqueConstraint(
                fields=["thing", "event", "kind", "detail"],
                name="one_break_of_a_kind_per_event",
                violation_error_message="This break is known already.",
            ),
            models.CheckConstraint(
                condition=Q(answered=None) | Q(answered__gt=models.F("event")),
                name="break_is_answered_later",
                violation_error_message="A break is answered by a later event.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} at event {self.event}"

    def get_absolute_url(self) -> str:
        return reverse("custody:break", args=[self.pk])

    @property
    def sentence(self) -> str:
        """What does not fit, for people."""
        return lines.SENTENCES[self.kind].format(detail=self.detail)


class LineCheck(models.Model):
    """One walk through the lines of all things, as the worker does every night."""

    started = models.DateTimeField()
    ended = models.DateTimeField()
    things = models.PositiveIntegerField()
    put_right = models.PositiveIntegerField(help_text="things whose breaks were not kept as their events say")
    beside = models.PositiveIntegerField(help_text="things that were changed past the ledger")

    class Meta:
        ordering = ["-ended", "-pk"]

    def __str__(self) -> str:
        return f"check of {self.things} lines"
