"""Wipes of media, from their beginning to the certificate, and checks of their health."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from labcases.cases.models import Case
from labcases.core.models import Line, Prose
from labcases.lab.models import Entry
from labcases.stock.models.media import Destination
from labcases.stock.wiping import terms


class WipeQuerySet(models.QuerySet["Wipe"]):
    def going(self) -> WipeQuerySet:
        """Those that run, and those that ended and wait for their verification."""
        return self.filter(state__in=Wipe.GOING)

    def with_context(self) -> WipeQuerySet:
        """Everything a row about a wipe prints."""
        medium = ("destination__thing__place", "destination__thing__staff", "destination__thing__party")
        held = "destination__held_for__thing"
        return self.select_related(*medium, held, "destination__family", "case__thing", "by", "verified_by")


class Wipe(Entry):
    """An erasure after NIST SP 800-88. ``happened`` is when it began; only when it is verified is the medium free."""

    class Method(models.TextChoices):
        CLEAR = "clear", "clear"
        PURGE = "purge", "purge"
        DESTROY = "destroy", "destroy"

    class Verified(models.TextChoices):
        FULL = "full", "every sector read back"
        SAMPLED = "sampled", "samples read back"
        SEEN = "seen", "seen destroyed"

    class State(models.TextChoices):
        RUNNING = "running", "running"
        ENDED = "ended", "ended, to be verified"
        VERIFIED = "verified", "verified"
        FAILED = "failed", "failed"
        STOPPED = "stopped", "stopped"
        NOT_PASSED = "not passed", "verification not passed"

    GOING = (State.RUNNING, State.ENDED)

    destination = models.ForeignKey(Destination, on_delete=models.PROTECT, related_name="wipes")
    case = models.ForeignKey(Case, null=True, on_delete=models.PROTECT, help_text="whose data it held")
    state = Line(personal=False, max_length=12, choices=State.choices, default=State.RUNNING)
    was = Line(personal=False, max_length=30, blank=True, help_text="state of the medium before")
    standard = Line(personal=False, max_length=60, default=terms.STANDARD, help_text="whose words these are")
    method = Line(personal=False, max_length=10, choices=Method.choices)
    technique = Line(personal=False, max_length=60, blank=True)
    tool = Line(personal=False, max_length=200, help_text="what was used, with its version")
    port = Line(personal=False, max_length=100, blank=True, help_text="machine and port it runs on")
    expected_end = models.DateTimeField(null=True, blank=True)
    ended = models.DateTimeField(null=True, blank=True)
    ended_because = Prose(personal=False, blank=True, help_text="why it failed, was stopped, or did not pass")
    verified = Line(personal=False, max_length=10, choices=Verified.choices, blank=True)
    share = models.PositiveSmallIntegerField(null=True, blank=True, help_text="per cent of the sectors read back")
    verified_with = Line(personal=False, max_length=200, blank=True, help_text="what read it back, with its version")
    verified_at = models.DateTimeField(null=True, blank=True)
    verified_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    verified_role = Line(personal=False, max_length=20, blank=True)

    objects = WipeQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["destination"],
                condition=Q(state__in=["running", "ended"]),
                name="one_wipe_of_a_medium_at_a_time",
                violation_error_message="A wipe of this medium is going on already.",
            ),
            models.CheckConstraint(
                condition=Q(state="running", ended=None) | Q(~Q(state="running"), ended__isnull=False),
                name="wipe_that_runs_has_no_end",
                violation_error_message="A wipe runs, or has its end.",
            ),
            models.CheckConstraint(
                condition=Q(ended=None) | Q(ended__gte=F("happened")),
                name="wipe_ends_after_it_began",
                violation_error_message="A wipe ends after it began.",
            ),
            models.CheckConstraint(
                condition=Q(verified_at=None, verified="")
                | Q(~Q(verified=""), verified_at__isnull=False, ended__isnull=False, verified_at__gte=F("ended")),
                name="wipe_is_verified_after_its_end",
                violation_error_message="A wipe is verified after its end: how, and when.",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["verified", "not passed"], verified_at__isnull=False)
                | Q(~Q(state__in=["verified", "not passed"]), verified_at=None),
                name="only_a_verified_wipe_counts",
                violation_error_message="A wipe that failed, was stopped or still runs is not verified.",
            ),
            models.CheckConstraint(
                condition=Q(share=None) | Q(verified="sampled", share__range=(1, 99)),
                name="wipe_share_is_of_samples",
                violation_error_message="Samples cover 1 to 99 per cent; all of it is every sector.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.method} of {self.destination}"

    def get_absolute_url(self) -> str:
        return reverse("stock:a-wipe", args=[self.pk])

    @property
    def how(self) -> str:
        """Method, technique and tool in a few words."""
        return f"{self.get_method_display()}{f', {self.technique}' if self.technique else ''}, with {self.tool}"

    @property
    def how_verified(self) -> str:
        """How it was read back; empty while it was not."""
        share = f", {self.share} %" if self.share else ""
        return f"{self.get_verified_display()}{share}" if self.verified else ""


class HealthCheck(Entry):
    """What a medium said of its own health, and whether the lab trusts it. ``happened`` is when it was looked at."""

    class SelfTest(models.TextChoices):
        NOT_RUN = "", "not run"
        PASSED = "passed", "passed"
        FAILED = "failed", "failed"
        BROKEN_OFF = "broken off", "broken off"

    destination = models.ForeignKey(Destination, on_delete=models.PROTECT, related_name="health_checks")
    passed = models.BooleanField()
    because = Prose(personal=False, blank=True)
    self_test = Line(personal=False, max_length=12, choices=SelfTest.choices, blank=True)
    reallocated = models.PositiveBigIntegerField(null=True, blank=True, help_text="reallocated sectors")
    pending = models.PositiveBigIntegerField(null=True, blank=True, help_text="sectors that wait to be reallocated")
    hours = models.PositiveIntegerField(null=True, blank=True, help_text="powered on")
    tool = Line(personal=False, max_length=200, blank=True, help_text="what was used, with its version")

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(passed=True) | ~Q(because=""),
                name="failed_health_check_says_why",
                violation_error_message="Say why it failed.",
            )
        ]

    def __str__(self) -> str:
        return f"health of {self.destination}"

    @property
    def figures(self) -> list[tuple[str, Any]]:
        """What was read, named; what was not is left out."""
        named = [("reallocated", self.reallocated), ("pending", self.pending), ("hours", self.hours)]
        said = [(name, value) for name, value in named if value is not None]
        return [*said, *([("self-test", self.get_self_test_display())] if self.self_test else [])]
