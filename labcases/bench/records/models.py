"""The log of equipment and clean bench, competence, and work that went wrong (leftovers of ISO/IEC 17025).

What can never be false: a particle count has its number; a competence that ended did so after it began; what went wrong
is closed only with what was done about it.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from labcases.bench.stations.models import Equipment
from labcases.core.models import Line, Prose
from labcases.lab.models import Entry

CLASS_5 = 3_520  # particles of 0.5 µm and more in a cubic metre: ISO 14644-1:2015, table 1, class 5 (from memory)


class LogLine(Entry):
    """One line of the log of a machine or clean bench."""

    class What(models.TextChoices):
        COUNT = "count", "particles counted"
        FILTER = "filter", "filter changed"
        CLEANED = "cleaned", "cleaned"
        CALIBRATED = "calibrated", "calibrated"
        CHECKED = "checked", "checked"
        REPAIRED = "repaired", "repaired"

    equipment = models.ForeignKey(Equipment, on_delete=models.PROTECT, related_name="log")
    what = Line(personal=False, max_length=20, choices=What.choices)
    particles = models.PositiveBigIntegerField(null=True, blank=True, help_text="of 0.5 µm and more, in a cubic metre")
    note = Prose(personal=False, blank=True)
    next_due = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-happened", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(what="count") | Q(particles__isnull=False),
                name="particle_count_has_its_number",
                violation_error_message="Say how many particles were counted.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.equipment}: {self.get_what_display()}"

    @property
    def too_many(self) -> bool:
        """More particles than class 5 allows."""
        return self.particles is not None and self.particles > CLASS_5


class Competence(Entry):
    """Somebody may do one kind of work, shown how and until when it is looked at again."""

    class Work(models.TextChoices):
        COUNTER = "counter", "taking in and handing over"
        BOARDS = "boards", "boards: inspection and repair"
        CLEAN = "clean", "openings in clean air"
        HEADS = "heads", "head and motor work"
        FIRMWARE = "firmware", "firmware and ROM"
        IMAGING = "imaging", "reading and imaging"
        CHIPS = "chips", "chip removal and reading"
        LOGICAL = "logical", "file systems and files"
        ARRAYS = "arrays", "arrays"
        ERASING = "erasing", "wiping and destroying"

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="competences")
    work = Line(personal=False, max_length=20, choices=Work.choices)
    shown_by = Prose(personal=False, help_text="training, cases worked under somebody, examination")
    look_again = models.DateField(null=True, blank=True)
    ended = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["person__name", "work"]
        constraints = [
            models.UniqueConstraint(
                fields=["person", "work"],
                condition=Q(ended=None),
                name="one_standing_competence_per_work",
                violation_error_message="This is on record already. End it first, or look at it again.",
            ),
            models.CheckConstraint(
                condition=Q(ended=None) | Q(ended__gte=F("happened")),
                name="competence_ends_after_it_began",
                violation_error_message="It cannot have ended before it began.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.get_work_display()}"


class Mishap(Entry):
    """Work that went wrong, or a complaint: what happened, why, and what was done so that it does not happen again."""

    class Kind(models.TextChoices):
        WENT_WRONG = "went wrong", "seen by the lab"
        COMPLAINT = "complaint", "complaint"

    kind = Line(personal=False, max_length=10, choices=Kind.choices, default=Kind.WENT_WRONG)
    item = models.ForeignKey("cases.Item", null=True, blank=True, on_delete=models.PROTECT, related_name="mishaps")
    what = Prose(personal=True)
    why = Prose(personal=False, blank=True)
    done = Prose(personal=False, blank=True)
    closed = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-happened", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(closed=None) | ~Q(why="") & ~Q(done=""),
                name="closed_mishap_says_why_and_what_was_done",
                violation_error_message="Say why it happened and what was done before it is closed.",
            )
        ]

    def __str__(self) -> str:
        return self.what[:60]

    def get_absolute_url(self) -> str:
        return reverse("bench:mishap", args=[self.pk])
