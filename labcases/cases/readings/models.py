"""Readings: who a medium says it is.

What can never be false: a reading is of an item, or waits with a draft; a lifted stop says who lifted it and why.
"""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Q
from django.urls import reverse

from labcases.core.models import Line, Prose
from labcases.lab.models import Entry


class ReadingQuerySet(models.QuerySet["Reading"]):
    def newest_first(self) -> Any:
        return self.order_by("-pk")

    def stopping(self) -> Any:
        """Those that found the wrong item, and that no manager has lifted."""
        return self.filter(wrong_item=True, lifted=None)


class Reading(Entry):
    """One answer of a medium: what it says, and how the differences from what was noted were answered."""

    class Source(models.TextChoices):
        PAGE = "page", "read from the medium"
        SHOWN = "shown", "typed from what the machine shows"

    item = models.ForeignKey("cases.Item", null=True, on_delete=models.PROTECT, related_name="readings")
    draft = models.UUIDField(null=True, db_index=True, help_text="the intake it was read for, before there is an item")
    source = Line(personal=False, max_length=10, choices=Source.choices)
    what = Line(personal=False, max_length=100, blank=True, help_text="which page or register it was")
    page = Line(personal=False, max_length=64, blank=True, help_text="digest of the page as it was given, in the vault")
    said = models.JSONField(default=dict, help_text="what it says of itself, by attribute")
    pairs = models.JSONField(default=list, help_text="what was read, as label and value")
    loud = models.JSONField(default=list, help_text="sentences that must be read")
    notes = models.JSONField(default=list, help_text="sentences that may be read")
    filled = models.JSONField(default=list, help_text="attributes that nobody had noted, and that were taken from it")
    whole = models.BooleanField(default=True, help_text="false when only the board answered, without its service area")
    locked = models.BooleanField(default=False)
    answers = models.JSONField(default=dict, help_text="how each difference was answered, by attribute")
    wrong_item = models.BooleanField(default=False)
    lifted = models.DateTimeField(null=True)
    lifted_by = models.ForeignKey("lab.Staff", null=True, on_delete=models.PROTECT, related_name="+")
    lifted_because = Prose(personal=True, blank=True)

    objects = ReadingQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(item=None, draft__isnull=False) | Q(item__isnull=False, draft=None),
                name="reading_of_item_or_draft",
                violation_error_message="A reading is of an item, or waits with a draft.",
            ),
            models.CheckConstraint(
                condition=Q(lifted=None) | Q(wrong_item=True) & ~Q(lifted_because=""),
                name="lifted_stop_says_why",
                violation_error_message="A lifted stop says why.",
            ),
        ]

    def __str__(self) -> str:
        return f"reading of {self.happened:%d %b %H:%M}"

    def get_absolute_url(self) -> str:
        return reverse("bench:reading", args=[self.item.thing.printed_code, self.pk]) if self.item else ""
