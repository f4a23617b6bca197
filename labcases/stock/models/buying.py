"""What is to be bought for a patient, from the wish to the shelf."""

from __future__ import annotations

from datetime import date

from django.db import models
from django.db.models import Q
from django.urls import reverse

from labcases.cases.models import Item
from labcases.core.models import Line, Prose
from labcases.lab.models import Entry
from labcases.stock.models.donors import DonorPart
from labcases.stock.models.ruling import KINDS


class NeedQuerySet(models.QuerySet["Need"]):
    def still_open(self) -> NeedQuerySet:
        return self.filter(state__in=Need.OPEN)

    def with_context(self) -> NeedQuerySet:
        """Everything a row about a need prints."""
        item = ("item__thing", "item__case__thing", "item__family")
        return self.select_related(*item, "offered__thing", "offered__reserved_for", "met_by__thing", "by")


class Need(Entry):
    """A part that a patient needs and the stockroom has not: what it must be, and how far buying it has come."""

    class State(models.TextChoices):
        TO_BUY = "to buy", "to buy"
        ORDERED = "ordered", "ordered"
        ARRIVED = "arrived", "arrived"
        WRONG = "wrong", "wrong inside"
        RETURNED = "returned", "returned"
        MET = "met", "met"
        DROPPED = "dropped", "no longer needed"

    OPEN = (State.TO_BUY, State.ORDERED, State.ARRIVED, State.WRONG)
    UNBOUGHT = (State.TO_BUY, State.WRONG)

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="needs")
    part = Line(personal=False, max_length=30, choices=KINDS)
    attributes = models.JSONField(default=list, help_text="[{label, level, value}] of the patient, by the rules")
    note = Prose(personal=False, blank=True)
    state = Line(personal=False, max_length=10, choices=State.choices, default=State.TO_BUY)
    supplier = Line(personal=False, max_length=200, blank=True, help_text="where it is ordered")
    price = models.PositiveBigIntegerField(null=True, blank=True, help_text="minor units")
    currency = Line(personal=False, max_length=3, blank=True)
    promised = models.DateField(null=True, blank=True)
    non_refundable = models.BooleanField(default=False, help_text="the customer pays it whatever comes of it")
    ordered = models.DateTimeField(null=True, blank=True)
    arrived = models.DateTimeField(null=True, blank=True)
    offered = models.ForeignKey(
        DonorPart, null=True, blank=True, on_delete=models.SET_NULL, related_name="+", help_text="new stock that may do"
    )
    met_by = models.ForeignKey(DonorPart, null=True, blank=True, on_delete=models.PROTECT, related_name="needs_met")
    because = Prose(personal=False, blank=True, help_text="what was wrong, or why it is no longer needed")

    objects = NeedQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["state", "part"], name="need_by_state")]
        constraints = [
            models.UniqueConstraint(
                fields=["item", "part"],
                condition=Q(state__in=["to buy", "ordered", "arrived", "wrong"]),
                name="one_open_need_of_a_kind_per_patient",
                violation_error_message="This part is on the list to buy for this patient already.",
            ),
            models.CheckConstraint(
                condition=Q(ordered=None) | ~Q(supplier=""),
                name="ordered_need_says_where",
                violation_error_message="Say where it is ordered.",
            ),
            models.CheckConstraint(
                condition=~Q(state="met") | Q(met_by__isnull=False),
                name="met_need_names_its_part",
                violation_error_message="A need that is met names the part that met it.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.part} for {self.item}"

    def get_absolute_url(self) -> str:
        return reverse("stock:need", args=[self.pk])

    @property
    def is_open(self) -> bool:
        return self.state in self.OPEN

    @property
    def may_do(self) -> DonorPart | None:
        """The part that was offered, as long as it is to be had for this patient."""
        part = self.offered
        if part is None or not self.is_open or not part.on_the_shelf:
            return None
        kept = part.reserved_now
        return part if kept is None or kept.pk == self.item_id else None

    def is_late(self, today: date) -> bool:
        """Whether it was promised for a day that has passed."""
        return self.state == self.State.ORDERED and self.promised is not None and self.promised < today


class EarlierOrder(Entry):
    """An order of a need that came wrong before it was ordered once more: it was paid, and counts until it goes back.

    ``happened`` is when it was ordered once more.
    """

    need = models.ForeignKey(Need, on_delete=models.PROTECT, related_name="earlier")
    supplier = Line(personal=False, max_length=200)
    price = models.PositiveBigIntegerField(null=True, blank=True, help_text="minor units")
    currency = Line(personal=False, max_length=3, blank=True)
    non_refundable = models.BooleanField(default=False)
    ordered = models.DateTimeField()
    arrived = models.DateTimeField(null=True, blank=True)
    because = Prose(personal=False, blank=True, help_text="what was wrong with it")
    returned = models.DateTimeField(null=True, blank=True, help_text="when it went back to where it was bought")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.need.part} from {self.supplier}"

    def get_absolute_url(self) -> str:
        return self.need.get_absolute_url()
