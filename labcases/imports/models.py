"""Tables on their way in: how far each is, and what becomes of every row.

What can never be false: rows that come in belong to a batch, which is shown by one update; a row of a table has one
fate; a chunk is taken once (``reached`` is claimed by a conditional update).
"""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Q
from django.urls import reverse

from labcases.core.importing import Fate
from labcases.core.models import Batch, Line, Prose
from labcases.imports.kinds import KINDS, Kind
from labcases.lab.models import Entry


class Import(Entry):
    """One table that somebody sent, from its columns to its rows in the lab, or back."""

    class State(models.TextChoices):
        COLUMNS = "columns", "columns to choose"
        CHECKING = "checking", "being checked"
        CHECKED = "checked", "checked, not taken in"
        APPLYING = "applying", "being taken in"
        ENTERING = "entering", "taken in, being entered in the ledger"
        SHOWN = "shown", "taken in"
        STOPPING = "stopping", "being put back"
        STOPPED = "stopped", "stopped, nothing taken in"
        UNDOING = "undoing", "being undone"
        UNDONE = "undone", "undone"
        LEFT = "left", "left alone"

    WORKING = (State.CHECKING, State.APPLYING, State.ENTERING, State.STOPPING, State.UNDOING)

    kind = Line(personal=False, max_length=30)
    name = Line(personal=True, max_length=200, help_text="of the file")
    file = Line(personal=True, max_length=64, blank=True, help_text="digest of the file as it came, in the vault")
    lines = Line(personal=True, max_length=64, blank=True, help_text="digest of its rows, one a line, in the vault")
    sheet = Line(personal=False, max_length=100, blank=True)
    header_row = models.PositiveIntegerField(default=0, help_text="0: found by itself")
    headers = models.JSONField(default=list)
    mapping = models.JSONField(default=dict, help_text="field to column, counted from 0")
    state = Line(personal=False, max_length=10, choices=State.choices, default=State.COLUMNS)
    skip_refused = models.BooleanField(default=False)
    reached = models.PositiveBigIntegerField(
        default=0, help_text="where the next chunk begins: a byte of the rows, later the key of a thing"
    )
    done = models.PositiveIntegerField(default=0, help_text="rows behind us in this step")
    total = models.PositiveIntegerField(default=0)
    batch = models.OneToOneField(Batch, null=True, on_delete=models.PROTECT, related_name="+")
    event = models.PositiveBigIntegerField(null=True, help_text="the event that records it")
    said = Prose(personal=True, blank=True, help_text="why it stopped, or what stands against undoing it")
    ended = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["state"], name="import_by_state")]
        constraints = [
            models.CheckConstraint(
                condition=~Q(state__in=["entering", "shown"]) | Q(event__isnull=False),
                name="shown_import_is_recorded",
                violation_error_message="An import that is taken in is in the ledger.",
            )
        ]

    def __str__(self) -> str:
        return f"import {self.pk}"

    def get_absolute_url(self) -> str:
        return reverse("imports:one", args=[self.pk])

    @property
    def of(self) -> Kind:
        return KINDS[self.kind]

    @property
    def working(self) -> bool:
        return self.state in self.WORKING


class ImportRow(models.Model):
    """What becomes of one row of a table, and why."""

    table = models.ForeignKey(Import, on_delete=models.CASCADE, related_name="rows")
    number = models.PositiveIntegerField(help_text="as the spreadsheet shows it")
    fate = Line(personal=False, max_length=10, choices=[(fate, fate) for fate in Fate])
    because = Prose(personal=True, blank=True)
    key = Line(personal=False, max_length=120, blank=True, help_text="what no other row of the table may have")
    target = models.BigIntegerField(null=True, help_text="the row of the lab that it speaks of")
    seen = models.PositiveBigIntegerField(default=0, help_text="its last event: when checked, later when changed")
    changes = models.JSONField(null=True, help_text="what it says now, by field")
    before = models.JSONField(null=True, help_text="what stood there before it was changed")

    class Meta:
        ordering = ["number"]
        indexes = [
            models.Index(fields=["table", "fate", "number"], name="import_row_by_fate"),
            models.Index(fields=["table", "key"], condition=~Q(key=""), name="import_row_by_key"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["table", "number"],
                name="import_row_once",
                violation_error_message="This row of the table was judged already.",
            )
        ]

    def __str__(self) -> str:
        return f"row {self.number}: {self.fate}"


def counts(table: Import) -> dict[str, int]:
    """How many rows have which fate."""
    rows: Any = table.rows.order_by().values_list("fate").annotate(n=models.Count("pk"))
    return {fate.value: dict(rows).get(fate.value, 0) for fate in Fate}
