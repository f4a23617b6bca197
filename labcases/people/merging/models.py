"""What a merge did, row by row, so that it can be undone."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.db.models import Q

from labcases.core.models import Prose
from labcases.lab.models import Entry


class PartyMergeQuerySet(models.QuerySet["PartyMerge"]):
    def standing(self) -> PartyMergeQuerySet:
        return self.filter(undone=None)


class PartyMerge(Entry):
    """One record went into another. What moved is listed; what was taken over into the kept record too."""

    kept = models.ForeignKey("people.Party", on_delete=models.PROTECT, related_name="merges")
    gone = models.ForeignKey("people.Party", on_delete=models.PROTECT, related_name="went")
    because = Prose(personal=True)
    moved: Any = models.JSONField(
        default=list, encoder=DjangoJSONEncoder, help_text="[{model, field, keys of the rows that named the gone one}]"
    )
    filled: Any = models.JSONField(default=dict, help_text="{field of the kept record: [what stood there, what came]}")
    undone = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    undone_because = Prose(personal=True, blank=True)

    objects = PartyMergeQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["gone"],
                condition=Q(undone=None),
                name="one_standing_merge_per_party",
                violation_error_message="This record has gone into another already.",
            ),
            models.CheckConstraint(
                condition=Q(undone=None, undone_by=None) | Q(undone__isnull=False) & ~Q(undone_because=""),
                name="undone_merge_says_why",
                violation_error_message="Say why the two are parted again.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.gone} into {self.kept}"
