"""Donors, their parts, and which part serves whom."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Q
from django.urls import reverse

from labcases.cases.models import Item
from labcases.core.models import Line, Prose
from labcases.custody.models import Medium, Thing
from labcases.lab.models import Entry
from labcases.stock.models.standing import serving
from labcases.stock.rules import PartKind


class Donor(Medium, Entry):
    """A medium of the lab's own that gives parts: bought, borrowed, given or left by a customer."""

    class Source(models.TextChoices):
        BOUGHT = "bought", "bought"
        BORROWED = "borrowed", "borrowed"
        GIVEN = "given", "given"
        LEFT = "left", "left by a customer"

    thing = models.OneToOneField(Thing, on_delete=models.PROTECT, related_name="donor")
    source = Line(personal=False, max_length=10, choices=Source.choices, default=Source.BOUGHT)
    supplier = Line(personal=False, max_length=200, blank=True)
    cost = models.PositiveBigIntegerField(null=True, blank=True, help_text="minor units")
    currency = Line(personal=False, max_length=3)
    note = Prose(personal=False, blank=True)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.thing.printed_code

    def get_absolute_url(self) -> str:
        return reverse("stock:donor", args=[self.thing.printed_code])


class DonorPartQuerySet(models.QuerySet["DonorPart"]):
    def free(self) -> DonorPartQuerySet:
        return self.filter(state=DonorPart.State.FREE)

    def with_context(self) -> DonorPartQuerySet:
        """Everything a row about a part prints."""
        return self.select_related("thing__place", "thing__staff", "thing__party", "donor__thing", "donor__family")

    def with_serving(self) -> Any:
        """``serves``: the folded code of the patient it serves now, or None."""
        return self.annotate(serves=serving(PartAssignment, "part"))


class DonorPart(Entry):
    """One part of a donor. Stock counts parts: using the heads does not use the board."""

    class State(models.TextChoices):
        FREE = "free", "free"
        ASSIGNED = "assigned", "assigned"
        USED = "used", "used"
        SPOILED = "spoiled", "spoiled"

    donor = models.ForeignKey(Donor, on_delete=models.PROTECT, related_name="parts")
    thing = models.OneToOneField(Thing, on_delete=models.PROTECT, related_name="donor_part")
    part = Line(personal=False, max_length=30, choices=[(kind.value, kind.value) for kind in PartKind])
    state = Line(personal=False, max_length=10, choices=State.choices, default=State.FREE)
    tested = Line(personal=False, max_length=200, blank=True, help_text="how it was tested and what came out")
    note = Prose(personal=False, blank=True)

    objects = DonorPartQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["part", "state"], name="part_by_kind_and_state")]
        constraints = [
            models.UniqueConstraint(
                fields=["donor", "part"],
                condition=~Q(part__in=["chip", "connector"]),
                name="one_part_of_a_kind_per_donor",
                violation_error_message="This donor's part is listed already.",
            )
        ]

    def __str__(self) -> str:
        return self.thing.printed_code

    def get_absolute_url(self) -> str:
        return self.donor.get_absolute_url()


class PartAssignment(Entry):
    """A part that serves a patient. It ends by release (unused) or by its outcome after use."""

    class Outcome(models.TextChoices):
        WORKED = "worked", "worked"
        PARTLY = "partly", "worked partly"
        FAILED = "failed", "failed"

    part = models.ForeignKey(DonorPart, on_delete=models.PROTECT, related_name="assignments")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="part_assignments")
    verdict = models.JSONField(help_text="what was the same, near, unknown or different when it was assigned")
    lifted = Prose(personal=False, blank=True, help_text="why a manager let a part go that does not match")
    ended = models.DateTimeField(null=True, blank=True)
    outcome = Line(personal=False, max_length=10, choices=Outcome.choices, blank=True)
    because = Prose(personal=False, blank=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["part"],
                condition=Q(ended=None),
                name="part_serves_one_patient",
                violation_error_message="This part already serves a patient.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.part} for {self.item}"

    def get_absolute_url(self) -> str:
        return f"{reverse('docket:case', args=[self.item.case.thing.printed_code])}#parts"
