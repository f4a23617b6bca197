"""Hand-overs that both sides confirm, and who outside is told of the ledger's heads."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from labcases.core.models import Line, Prose, now
from labcases.custody.models.thing import Thing
from labcases.lab.models import Entry


class CustodyRules(models.Model):
    """What this lab asks for in custody. There is one row."""

    both_confirm = models.BooleanField(default=False, help_text="a hand-over between people asks for both")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(pk=1),
                name="one_row_of_custody_rules",
                violation_error_message="A lab has one set of rules for custody.",
            )
        ]

    def __str__(self) -> str:
        return "rules of custody"

    @classmethod
    def current(cls) -> CustodyRules:
        return cls.objects.filter(pk=1).first() or cls(pk=1)


class StaffPin(models.Model):
    """The number with which somebody confirms a hand-over at a colleague's screen; hashed as passwords are."""

    staff = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="pin")
    digest = Line(personal=True, max_length=128)
    since = models.DateTimeField(default=now)

    def __str__(self) -> str:
        return f"PIN of {self.staff}"


class AskedHandover(Entry):
    """Things that one colleague wants to give to another, until that one takes or refuses them."""

    class State(models.TextChoices):
        ASKED = "asked", "waits for an answer"
        TAKEN = "taken", "taken"
        REFUSED = "refused", "refused"
        WITHDRAWN = "withdrawn", "withdrawn"

    things = models.ManyToManyField(Thing, related_name="asked_handovers")
    to = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="handovers_asked")
    because = Prose(personal=True, blank=True)
    state = Line(personal=False, max_length=10, choices=State.choices, default=State.ASKED)
    answered = models.DateTimeField(null=True)
    said = Prose(personal=True, blank=True, help_text="why it was refused")

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["to"], condition=Q(state="asked"), name="handover_waits_for")]
        constraints = [
            models.CheckConstraint(
                condition=Q(state="asked", answered=None) | (~Q(state="asked") & Q(answered__isnull=False)),
                name="asked_handover_says_when_answered",
                violation_error_message="A hand-over that was answered says when.",
            )
        ]

    def __str__(self) -> str:
        return f"hand-over to {self.to}"

    def get_absolute_url(self) -> str:
        return reverse("custody:asked", args=[self.pk])


class Witness(models.Model):
    """An address outside the lab that is sent the ledger's signed head every day."""

    address = Line(personal=True, max_length=254, unique=True)
    since = models.DateTimeField(default=now)

    class Meta:
        ordering = ["address"]
        verbose_name_plural = "witnesses"

    def __str__(self) -> str:
        return str(self.address)
