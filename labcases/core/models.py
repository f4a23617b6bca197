"""One-time keys, batches, remembered columns; and the two kinds of text field, which say whether they are personal."""

from __future__ import annotations

from typing import Any, TypeVar

from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

M = TypeVar("M", bound=models.Model, covariant=True)


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


class Batch(models.Model):
    """Rows that come in together. They are there for nobody until one update shows them all."""

    shown = models.DateTimeField(null=True, blank=True, db_index=True)

    def __str__(self) -> str:
        return f"batch {self.pk}"


def shown_only(model: type[models.Model]) -> Q:
    """What leaves out rows of a batch that is not shown: by their own ``batch``, else by that of their ``thing``.

    No join, so that an UPDATE which claims a row stays one; and while no batch waits, which is nearly always, the
    first half answers for all rows at once.
    """
    waiting = Batch.objects.filter(shown=None)
    hidden = Q(batch__in=waiting.values("pk"))
    fields = {field.name: field for field in model._meta.concrete_fields}
    if "batch" not in fields:
        things = fields["thing"].related_model
        hidden = Q(Exists(things._base_manager.filter(pk=OuterRef("thing_id")).filter(hidden)))  # type: ignore[union-attr]
    return ~Q(Exists(waiting)) | ~hidden


class ShownManager(models.Manager[M]):
    """The default manager of whatever can come in with a batch: ``ShownManager.from_queryset(…)()``."""

    _only: Q | None = None

    def get_queryset(self) -> models.QuerySet[M]:
        if self._only is None:
            self._only = shown_only(self.model)
        return super().get_queryset().filter(self._only)


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
