"""Mechanisms under their makers' names, and what is expected inside."""

from __future__ import annotations

from functools import lru_cache

from django.db import models
from django.db.models import Q
from django.urls import reverse

from labcases.core.models import Line, Prose
from labcases.core.text import folded_serial
from labcases.media.capacity import standard_gigabytes


@lru_cache(maxsize=4096)
def printed_gigabytes(sectors: int | None, sector_bytes: int) -> int | None:
    """What is printed on a disk of so many sectors; None where no rule says."""
    return standard_gigabytes(sectors, sector_bytes) if sectors and sector_bytes in (512, 4096) else None


class Family(models.Model):
    """A mechanism under its makers' names: what is expected of it, and which model numbers belong to it."""

    name = Line(personal=False, max_length=100, unique=True)
    heads = models.PositiveSmallIntegerField(null=True, blank=True, help_text="heads fitted, when all sizes share them")
    platters = models.PositiveSmallIntegerField(null=True, blank=True)
    shingled = models.BooleanField(default=False, help_text="its tracks overlap")
    helium = models.BooleanField(default=False, help_text="it is filled with helium")
    low_not_outer = models.BooleanField(default=False, help_text="a low sector number is not an outer track")
    quirks = Prose(personal=False, blank=True)

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "families"

    def __str__(self) -> str:
        return str(self.name)

    def get_absolute_url(self) -> str:
        return reverse("stock:family", args=[self.pk])

    def inside(self, sectors: int | None, sector_bytes: int | None) -> tuple[int | None, int | None]:
        """Heads and platters expected at this capacity, else those all sizes share (prefetch ``sizes`` in lists)."""
        sizes = self.sizes.all()
        gigabytes = printed_gigabytes(sectors, sector_bytes or 512) if sizes else None
        size = next((one for one in sizes if one.gigabytes == gigabytes), None) if gigabytes else None
        heads, platters = (size.heads, size.platters) if size else (None, None)
        return heads or self.heads, platters or self.platters


class FamilyAlias(models.Model):
    """A model number, or its beginning, by which a family is sold."""

    family = models.ForeignKey(Family, on_delete=models.CASCADE, related_name="aliases")
    maker = Line(personal=False, max_length=100, blank=True)
    model_start = Line(personal=False, max_length=100, help_text="folded: capitals and digits only")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["maker", "model_start"],
                name="family_alias_once",
                violation_error_message="A family is known by this maker and model already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.maker} {self.model_start}".strip()

    @classmethod
    def family_of(cls, maker: str, model: str) -> Family | None:
        """The family whose alias is the longest beginning of this model number."""
        key = folded_serial(model)
        starts = [key[:n] for n in range(3, len(key) + 1)]
        found = (
            cls.objects.select_related("family")
            .filter(model_start__in=starts)
            .filter(Q(maker="") | Q(maker__iexact=maker))
        )
        best = max(found, key=lambda alias: len(alias.model_start), default=None)
        return best.family if best else None


class FamilySize(models.Model):
    """What is expected inside at one capacity: sizes of a family differ in their heads and platters."""

    family = models.ForeignKey(Family, on_delete=models.CASCADE, related_name="sizes")
    gigabytes = models.PositiveIntegerField(help_text="as printed on the label")
    heads = models.PositiveSmallIntegerField(null=True, blank=True)
    platters = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["gigabytes"]
        constraints = [
            models.UniqueConstraint(
                fields=["family", "gigabytes"],
                name="family_size_once",
                violation_error_message="This family lists that capacity already.",
            ),
            models.CheckConstraint(
                condition=Q(gigabytes__gte=1),
                name="family_size_is_a_capacity",
                violation_error_message="A capacity is 1 GB or more.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.family} {self.gigabytes} GB"
