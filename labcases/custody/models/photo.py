"""Photographs of things."""

from __future__ import annotations

from uuid import UUID

from django.db import models
from django.db.models import Q
from django.urls import reverse

from labcases.core.models import Line
from labcases.custody.models.thing import Thing
from labcases.lab.models import Entry


class PhotoQuerySet(models.QuerySet["Photo"]):
    def standing(self) -> PhotoQuerySet:
        """What is shown: not withdrawn, oldest first."""
        return self.filter(withdrawn=None).order_by("pk")

    def of(self, owner: Thing | UUID) -> PhotoQuerySet:
        """Of a thing, or of a draft by its key."""
        return self.filter(thing=owner) if isinstance(owner, Thing) else self.filter(draft=owner)


class Photo(Entry):
    """A photograph of a thing, or of what a draft will become.

    The vault keeps the file that arrived under its SHA-256, for evidence; it is never served. What is served are the
    two copies made of its pixels.
    """

    thing = models.ForeignKey(Thing, null=True, on_delete=models.PROTECT, related_name="photos")
    draft = models.UUIDField(null=True, help_text="the intake it was taken for, before there is a thing")
    original = Line(personal=True, max_length=64, help_text="SHA-256 of the file as it arrived, hex")
    shown = Line(personal=True, max_length=64, help_text="digest of the copy that is shown")
    thumb = Line(personal=True, max_length=64, help_text="digest of the small copy")
    kind = Line(personal=False, max_length=10)
    width = models.PositiveIntegerField(help_text="pixels of the original, upright")
    height = models.PositiveIntegerField()
    size = models.PositiveIntegerField(help_text="bytes of the original")
    camera_time = Line(personal=False, max_length=19, blank=True, help_text="by the camera's own clock, no zone")
    words = Line(personal=True, max_length=200, blank=True, help_text="what it shows")
    batch = models.UUIDField(help_text="taken in one go: one event of the ledger")
    event = models.PositiveBigIntegerField(null=True, help_text="the event that records it")
    withdrawn = models.DateTimeField(null=True)

    objects = PhotoQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["batch"], condition=Q(event=None), name="photo_not_recorded_yet")]
        constraints = [
            models.CheckConstraint(
                condition=Q(thing=None, draft__isnull=False) | Q(thing__isnull=False, draft=None),
                name="photo_of_thing_or_draft",
                violation_error_message="A photo shows a thing, or waits with a draft.",
            ),
            models.UniqueConstraint(
                fields=["thing", "original"],
                condition=Q(withdrawn=None),
                name="photo_once_per_thing",
                violation_error_message="This photo is with this thing already.",
            ),
            models.UniqueConstraint(
                fields=["draft", "original"],
                condition=Q(withdrawn=None),
                name="photo_once_per_draft",
                violation_error_message="This photo is with this intake already.",
            ),
            models.CheckConstraint(
                condition=Q(width__gte=1, height__gte=1, size__gte=1),
                name="photo_has_pixels",
                violation_error_message="A photo has pixels.",
            ),
            models.CheckConstraint(
                condition=Q(event=None) | Q(thing__isnull=False),
                name="photo_of_a_draft_is_not_in_the_ledger",
                violation_error_message="A photo is recorded with the thing that it shows.",
            ),
        ]

    def __str__(self) -> str:
        return f"photo {self.pk}"

    def get_absolute_url(self) -> str:
        return reverse("custody:photo", args=[self.pk])

    @property
    def alt(self) -> str:
        """What it shows, for whoever cannot see it."""
        return self.words or (f"Photograph of {self.thing.words}" if self.thing else "Photograph for this intake")
