"""Equipment, its ports, and what runs on them.

What can never be false: a port runs one patient at a time, and a patient runs on one port; nothing ends before it
began.
"""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.urls import reverse
from django.utils import timezone

from labcases.bench.stations.hours import in_hours
from labcases.core.models import Line, Prose
from labcases.lab.models import Entry


class Equipment(Entry):
    """A machine or tool that the lab keeps a log of."""

    class Kind(models.TextChoices):
        MACHINE = "machine", "bench machine"
        CLEAN_BENCH = "clean bench", "clean bench"
        SOLDERING = "soldering", "soldering and hot air"
        READER = "reader", "chip reader"
        METER = "meter", "meter"
        MICROSCOPE = "microscope", "microscope"
        OTHER = "other", "something else"

    name = Line(personal=False, max_length=100, unique=True)
    kind = Line(personal=False, max_length=20, choices=Kind.choices)
    serial = Line(personal=False, max_length=100, blank=True)
    note = Prose(personal=False, blank=True)
    retired = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("bench:equipment", args=[self.pk])


class Port(models.Model):
    """One place on a bench machine where a patient is plugged in."""

    equipment = models.ForeignKey(Equipment, on_delete=models.PROTECT, related_name="ports")
    name = Line(personal=False, max_length=40)

    class Meta:
        ordering = ["equipment__name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["equipment", "name"],
                name="port_name_once_per_machine",
                violation_error_message="This machine has a port of that name already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.equipment}, port {self.name}"


class SessionQuerySet(models.QuerySet["Session"]):
    def running(self) -> SessionQuerySet:
        return self.filter(ended=None)

    def running_at(self, moment: object) -> SessionQuerySet:
        """What ran at that moment."""
        return self.filter(Q(ended=None) | Q(ended__gt=moment), happened__lte=moment)

    def with_context(self) -> SessionQuerySet:
        return self.select_related("port__equipment", "item__thing", "item__case__thing", "watcher", "by")


class Session(Entry):
    """A patient under power on a port: ``happened`` is when it began."""

    class Ending(models.TextChoices):
        FINISHED = "finished", "finished"
        STOPPED = "stopped", "stopped by hand"
        FAILED = "failed", "the patient failed"
        POWER_CUT = "power cut", "power cut"

    port = models.ForeignKey(Port, on_delete=models.PROTECT, related_name="sessions")
    item = models.ForeignKey("cases.Item", on_delete=models.PROTECT, related_name="sessions")
    doing = Line(personal=False, max_length=200, blank=True, help_text="what it does: first pass, wipe, chip read")
    watcher = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+",
        help_text="who looks at it tonight",
    )  # fmt: skip
    ended = models.DateTimeField(null=True, blank=True)
    ending = Line(personal=False, max_length=10, blank=True, choices=Ending.choices)
    hands_on = models.PositiveIntegerField(null=True, blank=True, help_text="minutes of people")

    objects = SessionQuerySet.as_manager()

    class Meta:
        ordering = ["-happened", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["port"],
                condition=Q(ended=None),
                name="port_runs_one_patient",
                violation_error_message="A patient runs on this port already. End that first.",
            ),
            models.UniqueConstraint(
                fields=["item"],
                condition=Q(ended=None),
                name="patient_runs_on_one_port",
                violation_error_message="This patient runs on a port already. End that first.",
            ),
            models.CheckConstraint(
                condition=Q(ended=None) | Q(ended__gte=F("happened")),
                name="session_ends_after_it_began",
                violation_error_message="It cannot have ended before it began.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item} on {self.port}"

    @property
    def machine_hours(self) -> timedelta:
        """How long it has run, up to its end or to now."""
        return (self.ended or timezone.now()) - self.happened

    @property
    def machine_words(self) -> str:
        return in_hours(self.machine_hours)
