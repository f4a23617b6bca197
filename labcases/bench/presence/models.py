"""Who looked at which case last. Nothing here is a record: rows are overwritten, and forgotten after a day."""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.db import models
from django.utils import timezone

FRESH = timedelta(minutes=4)


class PresenceQuerySet(models.QuerySet["Presence"]):
    def fresh(self) -> PresenceQuerySet:
        return self.filter(seen__gt=timezone.now() - FRESH)


class Presence(models.Model):
    """One person with the docket of one case open."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    case = models.ForeignKey("cases.Case", on_delete=models.CASCADE, related_name="presences")
    seen = models.DateTimeField()

    objects = PresenceQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["seen"], name="presence_seen")]
        constraints = [
            models.UniqueConstraint(
                fields=["person", "case"],
                name="presence_once",
                violation_error_message="This person is there already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.person} at {self.case}"
