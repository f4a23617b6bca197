"""Secrets of a case and the keys that close them. Nothing here is readable without the lab's key.

What can never be false: a secret is sealed or erased, never both; so is the key of a case; the lab has one key.
"""

from __future__ import annotations

import uuid
from typing import Any

from django.db import models
from django.db.models import Q
from django.urls import reverse

from labcases.core.models import Line, now
from labcases.lab.models import Entry


class SecretsKey(models.Model):
    """Which key of the lab closes this database, by its fingerprint: another is refused."""

    fingerprint = Line(personal=False, max_length=32)
    since = models.DateTimeField(default=now)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(pk=1), name="one_secrets_key", violation_error_message="The lab has one key for secrets."
            )
        ]

    def __str__(self) -> str:
        return f"key {self.fingerprint[:8]}"


class CaseKey(models.Model):
    """The key of a case, wrapped by the lab's. Erasing it erases every secret of the case."""

    case = models.OneToOneField("cases.Case", on_delete=models.PROTECT, related_name="secrets_key")
    wrapped = models.BinaryField(null=True, max_length=200)
    erased = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(wrapped=None, erased__isnull=False) | Q(wrapped__isnull=False, erased=None),
                name="case_key_is_there_or_erased",
                violation_error_message="The key of a case is there, or its erasing is on record.",
            )
        ]

    def __str__(self) -> str:
        return f"key of {self.case}"


class CaseSecretQuerySet(models.QuerySet["CaseSecret"]):
    def standing(self) -> Any:
        """Those that can still be read."""
        return self.filter(erased=None)


class CaseSecret(Entry):
    """One secret: what it opens is in words, what it is stands sealed."""

    class Kind(models.TextChoices):
        PASSWORD = "password", "password"
        RECOVERY_KEY = "recovery key", "recovery key"
        CODE = "code", "code"
        PATTERN = "pattern", "unlock pattern"
        OTHER = "other", "something else"

    case = models.ForeignKey("cases.Case", on_delete=models.PROTECT, related_name="secrets")
    item = models.ForeignKey(
        "cases.Item", null=True, blank=True, on_delete=models.PROTECT, related_name="secrets", help_text="what it opens"
    )
    ref = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    kind = Line(personal=False, max_length=20, choices=Kind.choices)
    opens = Line(personal=True, max_length=100, blank=True, help_text="what it opens, in words")
    sealed = models.BinaryField(null=True, max_length=10_000)
    erased = models.DateTimeField(null=True)

    objects = CaseSecretQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(sealed=None, erased__isnull=False) | Q(sealed__isnull=False, erased=None),
                name="secret_is_sealed_or_erased",
                violation_error_message="A secret is sealed, or its erasing is on record.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} for {self.opens or self.item or self.case}"

    def get_absolute_url(self) -> str:
        return f"{reverse('docket:case', args=[self.case.thing.printed_code])}#locks"
