"""A code that is printed on a sheet of paper before there is a case for it."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import Q
from django.urls import reverse

from labcases.core import codes
from labcases.core.models import Line, Prose
from labcases.lab.models import Entry

SHEETS = uuid.UUID("5b0b9a0e-6f1c-4c5e-9c2b-7d1f3a8e2b46")  # under this the drafts of sheets have their keys


class ReservedCodeQuerySet(models.QuerySet["ReservedCode"]):
    def waiting(self) -> ReservedCodeQuerySet:
        """Neither typed in nor void."""
        return self.filter(case=None, void_because="")


class ReservedCode(Entry):
    """One sheet of a pad: ``happened`` is when its code was reserved. It becomes one case, or is void with a reason."""

    code = Line(personal=False, max_length=30, unique=True, help_text="folded")
    pad = models.PositiveIntegerField()
    sheet = models.PositiveIntegerField(help_text="counts from 1 in its pad")
    printed = models.DateTimeField(null=True, blank=True)
    case = models.OneToOneField(
        "cases.Case", null=True, blank=True, on_delete=models.PROTECT, related_name="reserved_code"
    )
    void_because = Prose(personal=True, blank=True)

    objects = ReservedCodeQuerySet.as_manager()

    class Meta:
        ordering = ["pad", "sheet"]
        constraints = [
            models.UniqueConstraint(
                fields=["pad", "sheet"],
                name="sheet_once_per_pad",
                violation_error_message="A pad has each of its sheets once.",
            ),
            models.CheckConstraint(
                condition=Q(case=None) | Q(void_because=""),
                name="sheet_is_a_case_or_void",
                violation_error_message="A sheet that became a case is not void, and a void one becomes no case.",
            ),
        ]

    def __str__(self) -> str:
        return codes.printed(self.code)

    def get_absolute_url(self) -> str:
        return f"{reverse('cases:take-in')}?pad={self}"

    @property
    def draft_key(self) -> uuid.UUID:
        """Whoever opens the sheet finds the same draft."""
        return uuid.uuid5(SHEETS, self.code)
