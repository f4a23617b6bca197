"""Storage pools, and the images that lie or will lie on them.

What can never be false: the reservations of a pool never pass its capacity; an image is erased only when its key is
gone, and says how that was seen.
"""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from labcases.cases.models import Item
from labcases.cases.secrecy.models import CaseSecret
from labcases.core.models import Line, Prose
from labcases.lab.models import Entry
from labcases.stock import fitting


class Pool(Entry):
    """Storage of the lab where images are files. ``reserved`` is changed by conditional updates only."""

    name = Line(personal=False, max_length=100, unique=True)
    where = Line(personal=False, max_length=200, blank=True, help_text="which machine, which path")
    capacity = models.PositiveBigIntegerField(help_text="bytes that images may take")
    reserved = models.PositiveBigIntegerField(default=0, help_text="bytes, the sum over its open images")
    in_use = models.BooleanField(default=True)
    note = Prose(personal=False, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(reserved__lte=F("capacity"), reserved__gte=0),
                name="pool_holds_what_is_reserved",
                violation_error_message="The reservations of a pool never pass its capacity.",
            ),
            models.CheckConstraint(
                condition=Q(capacity__gte=1),
                name="pool_has_a_capacity",
                violation_error_message="Say how many bytes images may take.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("stock:pool", args=[self.pk])

    @property
    def free(self) -> int:
        """Bytes that are not reserved."""
        return self.capacity - self.reserved

    def room(self) -> fitting.Room:
        """What fitting judges by: its free bytes."""
        return fitting.Room(f"pool-{self.pk}", self.free, 1, fitting.State.POOL, files=True, healthy=None)


class PoolImageQuerySet(models.QuerySet["PoolImage"]):
    def open(self) -> PoolImageQuerySet:
        """Those whose bytes are reserved."""
        return self.filter(ended=None)

    def with_context(self) -> PoolImageQuerySet:
        """Everything a row about an image prints."""
        return self.select_related("pool", "item__thing", "item__case__thing", "key", "by", "ended_by")


class PoolImage(Entry):
    """Room on a pool for the image of a patient. It ends released, when nothing was written, or erased."""

    class End(models.TextChoices):
        RELEASED = "released", "released unwritten"
        ERASED = "erased", "erased"

    pool = models.ForeignKey(Pool, on_delete=models.PROTECT, related_name="images")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="pool_images")
    key = models.ForeignKey(
        CaseSecret, on_delete=models.PROTECT, related_name="pool_images", help_text="destroying it erases the image"
    )
    size = models.PositiveBigIntegerField(help_text="bytes reserved")
    fit = models.JSONField(help_text="sizes, compared when it was assigned")
    ended = models.DateTimeField(null=True, blank=True)
    end = Line(personal=False, max_length=10, choices=End.choices, blank=True)
    because = Prose(personal=False, blank=True)
    encrypted_with = Line(personal=False, max_length=200, blank=True, help_text="what closed the image with its key")
    seen_how = Line(personal=False, max_length=200, blank=True, help_text="how it was seen that it does not open")
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    ended_role = Line(personal=False, max_length=20, blank=True)

    objects = PoolImageQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["pool", "item"],
                condition=Q(ended=None),
                name="one_image_of_a_patient_on_a_pool",
                violation_error_message="Room for this patient is reserved on this pool already.",
            ),
            models.CheckConstraint(
                condition=Q(size__gte=1),
                name="image_has_a_size",
                violation_error_message="Say how many bytes to reserve.",
            ),
            models.CheckConstraint(
                condition=Q(ended=None, end="")
                | Q(ended__isnull=False, end="released")
                | Q(~Q(encrypted_with=""), ~Q(seen_how=""), ended__isnull=False, end="erased"),
                name="erased_image_says_how",
                violation_error_message="An erased image says what closed it, and how it was seen not to open.",
            ),
        ]

    def __str__(self) -> str:
        return f"image of {self.item} on {self.pool}"

    def get_absolute_url(self) -> str:
        return f"{self.pool.get_absolute_url()}#images"

    @property
    def standing(self) -> Any:
        """What it is now, in words."""
        if self.ended:
            return self.get_end_display()
        return "its key is gone: put its erasure on record" if self.key.erased else "reserved"
