"""Versions of a protocol, the one each patient keeps, and what was noted, passed by or lifted.

What can never be false: a version is never changed, only followed by the next number; a step or stop of a patient has
one standing note; what was passed by or lifted has its reason.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.urls import reverse

from labcases.bench.protocol_defaults import KINDS
from labcases.core.models import Line, Prose
from labcases.lab.models import Entry


class ProtocolVersionQuerySet(models.QuerySet["ProtocolVersion"]):
    def newest(self) -> ProtocolVersionQuerySet:
        """The last version of each kind."""
        later = ProtocolVersion.objects.filter(kind=OuterRef("kind"), number__gt=OuterRef("number"))
        return self.filter(~Exists(later))


class ProtocolVersion(Entry):
    """One version of the order of the bench for a kind of medium. Number 1 is as it was delivered, by nobody."""

    kind = Line(personal=False, max_length=20, choices=list(KINDS.items()))
    number = models.PositiveIntegerField()
    steps = models.JSONField(help_text="the steps, as bench/protocol_record.py writes them")
    because = Prose(personal=False, blank=True, help_text="what was changed, and why")

    objects = ProtocolVersionQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "-number"]
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "number"],
                name="protocol_version_once",
                violation_error_message="Somebody made a version of this protocol in the meantime. Open it again.",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=list(KINDS)),
                name="protocol_kind_is_known",
                violation_error_message="There is no protocol of this kind.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, version {self.number}"

    def get_absolute_url(self) -> str:
        return reverse("bench:protocol", args=[self.kind])


class KeptProtocol(models.Model):
    """The version that a patient started with, and keeps until a manager moves it."""

    item = models.OneToOneField("cases.Item", on_delete=models.PROTECT, related_name="kept_protocol")
    version = models.ForeignKey(ProtocolVersion, on_delete=models.PROTECT, related_name="kept_by")

    def __str__(self) -> str:
        return f"{self.item}: {self.version}"


class OrderNoteQuerySet(models.QuerySet["OrderNote"]):
    def standing(self) -> OrderNoteQuerySet:
        return self.filter(ended=None)


class OrderNote(Entry):
    """A step noted as done, a step or stop passed by with a reason, or a stop that a manager lifted."""

    class How(models.TextChoices):
        DONE = "done", "done"
        PASSED = "passed", "passed by"
        LIFTED = "lifted", "lifted"

    item = models.ForeignKey("cases.Item", on_delete=models.PROTECT, related_name="order_notes")
    key = Line(personal=False, max_length=120, help_text="of the step, or step/stop")
    how = Line(personal=False, max_length=10, choices=How.choices)
    because = Prose(personal=True, blank=True)
    ended = models.DateTimeField(null=True, blank=True, help_text="when it was taken back")
    ended_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")

    objects = OrderNoteQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["item", "key"],
                condition=Q(ended=None),
                name="one_standing_note_per_step",
                violation_error_message="This was answered in the meantime. Open the bench order again.",
            ),
            models.CheckConstraint(
                condition=Q(how="done") | ~Q(because=""),
                name="what_was_passed_by_has_its_reason",
                violation_error_message="Say why it is passed by.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.key}: {self.get_how_display()}"
