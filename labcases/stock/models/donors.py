"""Donors, their parts, and which part serves whom."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from labcases.cases.models import Item
from labcases.cases.stages import ENDED, Stage
from labcases.core.models import Line, Prose, ShownManager
from labcases.custody.models import Medium, Thing
from labcases.lab.models import Entry
from labcases.media.inside import heads_in
from labcases.media.traits import Traits
from labcases.stock.models.standing import key_of, serving
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
    scrapped = models.DateTimeField(null=True, blank=True)

    # What rules compare, as the database narrows by it: it fills these itself.
    maker_key = key_of("maker")
    model_key = key_of("model", indexed=True)
    serial_key = key_of("serial", indexed=True)
    firmware_key = key_of("firmware")
    interface_key = key_of("interface")
    plant_key = key_of("plant")
    board_number_key = key_of("board_number", indexed=True)
    board_revision_key = key_of("board_revision")
    main_chip_key = key_of("main_chip", indexed=True)
    preamplifier_key = key_of("preamplifier", indexed=True)
    motor_key = key_of("motor", indexed=True)
    base_casting_key = key_of("base_casting", indexed=True)
    flash_controller_key = key_of("flash_controller", indexed=True)
    bridge_number_key = key_of("bridge_number", indexed=True)
    encryption_generation_key = key_of("encryption_generation")

    objects = ShownManager()

    class Meta:
        ordering = ["-pk"]
        # What the find field counts and lists, without going through the whole rows.
        indexes = [
            models.Index(fields=["family", "sectors", "sector_bytes"], name="donor_by_family_and_size"),
            models.Index(fields=["maker"], name="donor_by_maker"),
        ]

    def __str__(self) -> str:
        return self.thing.printed_code

    def get_absolute_url(self) -> str:
        return reverse("stock:donor", args=[self.thing.printed_code])


class DonorPartQuerySet(models.QuerySet["DonorPart"]):
    def free(self) -> DonorPartQuerySet:
        """On the shelf, whoever it may be reserved for."""
        return self.filter(state__in=DonorPart.ON_THE_SHELF)

    def unreserved(self, *, at: datetime, unless_for: Item | None = None) -> DonorPartQuerySet:
        """Free for anybody at this moment, or reserved for this patient: what ran out counts for nothing."""
        # One that ends further ahead than any may was made by a clock that went wrong.
        open_to = Q(reserved_for=None) | Q(reserved_until__lte=at) | Q(reserved_until__gt=at + DonorPart.LONGEST)
        return self.free().filter(open_to | Q(reserved_for=unless_for) if unless_for else open_to)

    def reserved(self, *, at: datetime) -> DonorPartQuerySet:
        """Kept for some patient at this moment."""
        return self.free().filter(reserved_until__gt=at, reserved_until__lte=at + DonorPart.LONGEST)

    def serving_nobody_here(self) -> DonorPartQuerySet:
        """Those whose patient has left: what came of them is still to be said."""
        gone = [*ENDED, Stage.HANDED_OVER]
        return self.filter(state=DonorPart.State.ASSIGNED, assignments__ended=None, assignments__item__stage__in=gone)

    def with_context(self) -> DonorPartQuerySet:
        """Everything a row about a part prints."""
        place = ("thing__place", "thing__staff", "thing__party")
        return self.select_related(*place, "donor__thing", "donor__family", "reserved_for__thing")

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
        RETURNED = "returned", "returned to shelf"

    class Test(models.TextChoices):
        GOOD = "good", "good"
        PARTLY = "partly", "good in part"
        BAD = "bad", "bad"

    ON_THE_SHELF = (State.FREE, State.RETURNED)
    LONGEST = timedelta(days=60)  # no reservation is for longer

    donor = models.ForeignKey(Donor, on_delete=models.PROTECT, related_name="parts")
    thing = models.OneToOneField(Thing, on_delete=models.PROTECT, related_name="donor_part")
    part = Line(personal=False, max_length=30, choices=[(kind.value, kind.value) for kind in PartKind])
    state = Line(personal=False, max_length=10, choices=State.choices, default=State.FREE)
    stripped = models.DateTimeField(null=True, blank=True, help_text="when it was taken off its donor")
    heads_alive = Line(personal=False, max_length=200, blank=True, help_text="of a head stack: 0 1 3; blank: not known")
    tested = Line(personal=False, max_length=200, blank=True, help_text="how it was tested and what came out")
    test_result = Line(personal=False, max_length=10, choices=Test.choices, blank=True)
    tested_at = models.DateTimeField(null=True, blank=True)
    tested_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    cost = models.PositiveBigIntegerField(null=True, blank=True, help_text="its share, in the donor's minor units")
    note = Prose(personal=False, blank=True)
    reserved_for = models.ForeignKey(
        Item, null=True, blank=True, on_delete=models.PROTECT, related_name="reserved_parts"
    )
    reserved_until = models.DateTimeField(null=True, blank=True)

    objects = ShownManager.from_queryset(DonorPartQuerySet)()

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["part", "state"], name="part_by_kind_and_state")]
        constraints = [
            models.UniqueConstraint(
                fields=["donor", "part"],
                condition=~Q(part__in=["chip", "connector"]),
                name="one_part_of_a_kind_per_donor",
                violation_error_message="This donor's part is listed already.",
            ),
            models.CheckConstraint(
                condition=Q(reserved_for=None, reserved_until=None)
                | Q(reserved_for__isnull=False, reserved_until__isnull=False, state__in=["free", "returned"]),
                name="part_reserved_for_a_patient_until_a_time",
                violation_error_message="A part is reserved for a patient, until a time, while it is on the shelf.",
            ),
        ]

    def __str__(self) -> str:
        return self.thing.printed_code

    def get_absolute_url(self) -> str:
        return reverse("stock:part", args=[self.thing.printed_code])

    def traits(self) -> Traits:
        """What is known of it: its donor's traits, and which of its heads are alive."""
        traits = self.donor.traits()
        return replace(traits, heads_alive=heads_in(self.heads_alive)) if self.heads_alive else traits

    @property
    def on_the_shelf(self) -> bool:
        return self.state in self.ON_THE_SHELF

    @property
    def cost_minor(self) -> int | None:
        """Its share of the cost, else what the whole donor cost."""
        return self.donor.cost if self.cost is None else self.cost

    def reserved_at(self, moment: datetime) -> Item | None:
        """The patient it is reserved for at this moment, if any."""
        until = self.reserved_until
        return self.reserved_for if until is not None and moment < until <= moment + self.LONGEST else None

    @property
    def reserved_now(self) -> Item | None:
        return self.reserved_at(timezone.now())

    @property
    def standing(self) -> str:
        """What it is now, in words: its state, or whom it is kept for."""
        held = self.reserved_now
        return f"reserved for {held}" if held else str(self.get_state_display())


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
    answered = Prose(personal=False, blank=True, help_text="the answer to what was asked before it was fitted")
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
