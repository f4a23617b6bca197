"""One-time keys, remembered columns, and the two kinds of text field: each says whether it is personal."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from django.utils import timezone


def now() -> Any:
    """The moment, as every default takes it; looked up anew each time, so that a test's or the demo's clock counts."""
    return timezone.now()


class _SaysPersonal:
    """Forgetting a person and exporting their data read this mark; a test fails on a text field without it."""

    personal: bool

    def deconstruct(self) -> Any:
        name, path, args, kwargs = super().deconstruct()  # type: ignore[misc]
        return name, path, args, {**kwargs, "personal": self.personal}


class Line(_SaysPersonal, models.CharField):  # type: ignore[type-arg]
    """One line of text; blank means not known."""

    def __init__(self, *args: Any, personal: bool, **kwargs: Any) -> None:
        self.personal = personal
        kwargs.setdefault("max_length", 300)
        super().__init__(*args, **kwargs)


class Prose(_SaysPersonal, models.TextField):  # type: ignore[type-arg]
    """Several lines of text; blank means nothing said."""

    def __init__(self, *args: Any, personal: bool, **kwargs: Any) -> None:
        self.personal = personal
        super().__init__(*args, **kwargs)


class OneTimeKey(models.Model):
    """A form that was sent: pressing twice finds the first result instead of making a second."""

    key = models.UUIDField()
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE)
    verb = Line(personal=False, max_length=60)
    content = Line(personal=False, max_length=64, help_text="SHA-256 of what was sent")
    result = Line(personal=False, max_length=500, help_text="address of what was made")
    sent = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["key", "person", "verb"],
                name="one_time_key_once",
                violation_error_message="This form was already sent.",
            )
        ]
        indexes = [models.Index(fields=["sent"], name="one_time_key_sent")]

    def __str__(self) -> str:
        return f"{self.verb} {self.key}"


class ColumnLayout(models.Model):
    """Which column was which field when a table with these headers came in last (``core.queries.remembered``)."""

    purpose = Line(personal=False, max_length=60)
    signature = Line(personal=False, max_length=64, help_text="SHA-256 over the headers")
    mapping = models.JSONField(help_text="field to column, counted from 0; fields that were left out are missing")
    changed = models.DateTimeField(auto_now=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["purpose", "signature"],
                name="column_layout_once",
                violation_error_message="These headers are remembered already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.purpose} {self.signature[:8]}"
