"""Destinations and delivery media: what they serve, and how they are wiped."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import ExpressionWrapper, F, Q
from django.urls import reverse

from labcases.cases.models import Case, Item
from labcases.cases.stages import ENDED, Stage
from labcases.core.models import Line, Prose
from labcases.custody.models import Medium, Thing
from labcases.lab.models import Entry
from labcases.people.models import Party
from labcases.stock import fitting
from labcases.stock.models.standing import serving


class DestinationQuerySet(models.QuerySet["Destination"]):
    def assignable_to(self, case: Case) -> DestinationQuerySet:
        """Clean ones, and those that hold this same case's data already; a customer's own needs consent."""
        usable = Q(state__in=Destination.CLEAN) | Q(state=Destination.State.HOLDS_DATA, held_for=case)
        return self.filter(usable).exclude(owned_by__isnull=False, consent="")

    def with_context(self) -> DestinationQuerySet:
        """Everything a row about a medium prints."""
        return self.select_related("thing__place", "thing__staff", "thing__party", "held_for__thing", "family")

    def with_bytes(self) -> Any:
        """``capacity``: its bytes, to sort and narrow by."""
        size = ExpressionWrapper(F("sectors") * F("sector_bytes"), output_field=models.BigIntegerField())
        return self.annotate(capacity=size)

    def with_serving(self) -> Any:
        """``serves``: the folded code of the patient it serves now, or None."""
        return self.annotate(serves=serving(DestinationAssignment, "destination"))

    def serving_nobody_here(self) -> DestinationQuerySet:
        """Those whose patient has left: to be released, and then wiped."""
        left = Q(assignments__ended=None, assignments__item__stage__in=[*ENDED, Stage.HANDED_OVER])
        return self.filter(left, state=Destination.State.ASSIGNED)


class Destination(Medium, Entry):
    """A medium that receives: the clone of a patient, a working copy, or the recovered files that go out."""

    class Use(models.TextChoices):
        CLONE = "clone", "destination"
        DELIVERY = "delivery", "delivery medium"

    class State(models.TextChoices):  # the words of ``stock.fitting.State``, which judges by them
        SEALED = "new and sealed", "new and sealed"
        WIPED = "wiped and verified", "wiped and verified"
        ASSIGNED = "assigned", "assigned"
        HOLDS_DATA = "holds customer data", "holds customer data"
        RETIRED = "retired", "retired"
        GONE = "handed out", "handed out"

    CLEAN = (State.SEALED, State.WIPED)
    HOLDING = (State.ASSIGNED, State.HOLDS_DATA, State.GONE)

    thing = models.OneToOneField(Thing, on_delete=models.PROTECT, related_name="destination")
    use = Line(personal=False, max_length=10, choices=Use.choices, default=Use.CLONE)
    state = Line(personal=False, max_length=30, choices=State.choices, default=State.SEALED)
    held_for = models.ForeignKey(Case, null=True, blank=True, on_delete=models.PROTECT, related_name="destinations")
    owned_by = models.ForeignKey(
        Party, null=True, blank=True, on_delete=models.PROTECT, help_text="a customer's own medium"
    )
    consent = Prose(personal=True, blank=True, help_text="the owner's written consent to write on it")
    cost = models.PositiveBigIntegerField(null=True, blank=True, help_text="minor units")
    currency = Line(personal=False, max_length=3)
    note = Prose(personal=False, blank=True)

    objects = DestinationQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["use", "state"], name="destination_by_state")]
        constraints = [
            models.CheckConstraint(
                condition=Q(held_for=None, state__in=["new and sealed", "wiped and verified"])
                | Q(held_for__isnull=False, state__in=["assigned", "holds customer data", "handed out"])
                | Q(state="retired"),
                name="destination_held_for_a_case_iff_in_its_service",
                violation_error_message="A medium that serves a case names it; a clean one names none.",
            ),
            models.CheckConstraint(
                condition=Q(sectors__gte=1, sector_bytes__gte=1),
                name="destination_has_a_size",
                violation_error_message="Say how many sectors it has, and how large a sector is.",
            ),
            models.CheckConstraint(
                condition=Q(owned_by=None) | Q(held_for__isnull=False),
                name="destination_of_a_customer_serves_its_case",
                violation_error_message="A customer's own medium belongs to a case, and serves that case only.",
            ),
        ]

    def __str__(self) -> str:
        return self.thing.printed_code

    def get_absolute_url(self) -> str:
        return reverse("stock:destination", args=[self.thing.printed_code])

    @property
    def holds(self) -> str:
        """Whose data is on it, as a sentence, until its wipe is on record; empty when it is clean."""
        if self.held_for is None:
            return ""
        if self.owned_by_id:
            return f"The customer's own, of case {self.held_for}. It is never wiped here."
        if self.state == Destination.State.ASSIGNED:
            return f"In the service of case {self.held_for}."
        return f"Holds data of case {self.held_for}; no wipe is on record."

    def room(self) -> fitting.Room:
        """What fitting judges by."""
        return fitting.Room(
            key=self.pk,
            sectors=self.sectors,
            sector_bytes=self.sector_bytes or 512,
            state=fitting.State(self.state),
            held_for=self.held_for.thing.printed_code if self.held_for else None,
            owned_by=self.held_for.thing.printed_code if self.held_for and self.owned_by_id else None,
            consent=bool(self.consent),
        )


class DestinationAssignment(Entry):
    """A destination (or delivery medium) that serves a patient."""

    destination = models.ForeignKey(Destination, on_delete=models.PROTECT, related_name="assignments")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="destination_assignments")
    fit = models.JSONField(help_text="sectors and bytes of both when it was assigned, and what was warned of")
    ended = models.DateTimeField(null=True, blank=True)
    because = Prose(personal=False, blank=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["destination"],
                condition=Q(ended=None),
                name="destination_serves_one_patient",
                violation_error_message="This medium already serves a patient.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.destination} for {self.item}"

    def get_absolute_url(self) -> str:
        return f"{reverse('docket:case', args=[self.item.case.thing.printed_code])}#parts"


class Wipe(Entry):
    """An erasure after NIST SP 800-88: which method, and how it was verified."""

    class Method(models.TextChoices):
        CLEAR = "clear", "clear"
        PURGE = "purge", "purge"
        DESTROY = "destroy", "destroy"

    class Verified(models.TextChoices):
        FULL = "full", "every sector read back"
        SAMPLED = "sampled", "samples read back"
        SEEN = "seen", "seen destroyed"

    destination = models.ForeignKey(Destination, on_delete=models.PROTECT, related_name="wipes")
    case = models.ForeignKey(Case, null=True, on_delete=models.PROTECT, help_text="whose data it held")
    method = Line(personal=False, max_length=10, choices=Method.choices)
    tool = Line(personal=False, max_length=200, help_text="what was used, with its version")
    verified = Line(personal=False, max_length=10, choices=Verified.choices)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.method} of {self.destination}"
