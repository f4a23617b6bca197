"""How an array was put together, as found out on the copies of its members.

What can never be false: two members have different places in the order; an older finding stays beside a newer one.
"""

from __future__ import annotations

from django.db import models

from labcases.cases.models import Item
from labcases.core.models import Line, Prose
from labcases.lab.models import Entry


class ArrayFinding(Entry):
    """How an array was put together, found out on the copies; the newest one counts."""

    class Level(models.TextChoices):
        LINEAR = "linear", "one after another"
        STRIPED = "0", "striped, no parity (RAID 0)"
        MIRRORED = "1", "mirrored (RAID 1)"
        ONE_PARITY_DISK = "4", "one member for parity (RAID 4)"
        PARITY = "5", "single parity, rotating (RAID 5)"
        TWO_PARITIES = "6", "double parity, rotating (RAID 6)"
        MIRRORED_STRIPES = "10", "striped mirrors (RAID 10)"

    case = models.ForeignKey("cases.Case", on_delete=models.PROTECT, related_name="array_findings")
    level = Line(personal=False, max_length=10, choices=Level.choices)
    members = models.PositiveSmallIntegerField(help_text="members it was made of")
    stripe_sectors = models.PositiveIntegerField(null=True, blank=True, help_text="sectors of one stripe unit")
    parity = Line(personal=False, max_length=40, blank=True, help_text="how parity rotates")
    copies = models.PositiveSmallIntegerField(default=2, help_text="copies of each stripe unit, when mirrored")
    note = Prose(personal=False, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.get_level_display()}, {self.members} members"


class ArrayMember(models.Model):
    """One member as found: its place in the order, where its data begins, whether it is behind the others."""

    finding = models.ForeignKey(ArrayFinding, on_delete=models.PROTECT, related_name="found")
    item = models.ForeignKey(Item, null=True, on_delete=models.PROTECT, related_name="member_findings")
    place = models.PositiveSmallIntegerField(help_text="place in the order of the array, from 0")
    slot = Line(personal=False, max_length=40, blank=True)
    offset_sectors = models.PositiveBigIntegerField(default=0, help_text="where its data begins")
    stale = models.BooleanField(default=False, help_text="dropped out earlier: its data is behind the others'")
    usable = models.BooleanField(default=True, help_text="its copy is good enough to be used")

    class Meta:
        ordering = ["place"]
        constraints = [
            models.UniqueConstraint(
                fields=["finding", "place"],
                name="array_place_once",
                violation_error_message="Two members cannot have the same place in the order.",
            )
        ]

    def __str__(self) -> str:
        return f"member {self.place}"


class ArrayCheck(Entry):
    """One stretch of every member's copy, held against the rule of the level."""

    finding = models.ForeignKey(ArrayFinding, on_delete=models.PROTECT, related_name="checks")
    where = Line(personal=False, max_length=100, blank=True, help_text="which stretch it was")
    size = models.PositiveBigIntegerField(help_text="bytes of each member")
    agreeing = models.PositiveBigIntegerField(help_text="bytes of these on which the rule holds")
    sentence = Prose(personal=False)
    digests = models.JSONField(help_text="SHA-256 of each member's piece, hex, in the order of the places")

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(agreeing__lte=models.F("size")),
                name="array_check_agrees_on_what_there_is",
                violation_error_message="No more bytes agree than were held against one another.",
            )
        ]

    def __str__(self) -> str:
        return self.sentence

    @property
    def whole(self) -> bool:
        return bool(self.agreeing == self.size)
