"""What left the lab, with whom, and against which signature."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.urls import reverse

from labcases.cases.models import Case
from labcases.core.models import Line, Prose
from labcases.custody.models import Thing
from labcases.lab.models import Entry


class Handover(Entry):
    """One release: who collected what, how they showed who they are, and what they signed."""

    class Manner(models.TextChoices):
        COLLECTED = "collected", "collected"
        POSTED = "posted", "by post or courier"
        DISPOSED = "disposed", "left for disposal, signed"

    class Collector(models.TextChoices):
        OWNER = "owner", "the owner"
        BEARER = "bearer", "who brought it"
        OTHER = "other", "somebody else, with the owner's word"

    class Proof(models.TextChoices):
        KNOWN = "known", "known in person"
        ID_CARD = "id card", "identity card seen"
        PASSPORT = "passport", "passport seen"
        LICENCE = "licence", "driving licence seen"
        RECEIPT = "receipt", "our receipt and signature compared"
        TRACKED = "tracked", "tracked parcel, receiver confirms"

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="handovers")
    number = models.PositiveSmallIntegerField(help_text="counts within the case; names its report")
    manner = Line(personal=False, max_length=10, choices=Manner.choices, default=Manner.COLLECTED)
    collector = Line(personal=False, max_length=10, choices=Collector.choices, default=Collector.OWNER)
    collector_name = Line(personal=True, max_length=300)
    owners_word = Prose(personal=True, blank=True, help_text="how the owner said that somebody else may collect")
    proof = Line(personal=False, max_length=10, choices=Proof.choices)
    carrier = Line(personal=False, max_length=100, blank=True, help_text="who takes the parcel")
    tracking = Line(personal=True, max_length=100, blank=True)
    seals = models.JSONField(default=list, blank=True)
    signed_how = Line(personal=False, max_length=20, blank=True)
    signature = Line(personal=True, max_length=64, blank=True, help_text="digest of the drawn signature in the vault")
    sample_opened = models.BooleanField(default=False, help_text="the customer opened a sample")
    delivery_checked = models.BooleanField(default=False)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["case", "number"],
                name="handover_number_once_per_case",
                violation_error_message="A handover of this number is in the case already.",
            ),
            models.CheckConstraint(
                condition=~Q(collector="other") | ~Q(owners_word=""),
                name="other_collector_has_owners_word",
                violation_error_message="Somebody else collects with the owner's word: say how it was given.",
            ),
            models.CheckConstraint(
                condition=~Q(collector_name=""),
                name="collector_is_named",
                violation_error_message="Say who collects it.",
            ),
            models.CheckConstraint(
                condition=~Q(manner="posted") | ~Q(tracking=""),
                name="posted_is_tracked",
                violation_error_message="A parcel goes tracked: note its number.",
            ),
            models.CheckConstraint(
                condition=Q(manner="posted") | ~Q(signed_how=""),
                name="handover_is_signed",
                violation_error_message="Nothing leaves unsigned: draw the signature or tick that the paper is signed.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.case}/{self.number}"

    def get_absolute_url(self) -> str:
        return f"{reverse('docket:case', args=[self.case.thing.printed_code])}#handover"


class HandoverLine(models.Model):
    """One thing counted back: it goes out, it stays with the lab by signature, or it goes out another day."""

    class Fate(models.TextChoices):
        OUT = "out", "goes out"
        STAYS = "stays", "stays by signature"
        LATER = "later", "later"

    handover = models.ForeignKey(Handover, on_delete=models.PROTECT, related_name="lines")
    thing = models.ForeignKey(Thing, on_delete=models.PROTECT, related_name="+")
    fate = Line(personal=False, max_length=10, choices=Fate.choices)
    counted = models.PositiveSmallIntegerField(default=1)
    note = Line(personal=False, max_length=200, blank=True, help_text="why the count differs from what came in")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["handover", "thing"],
                name="thing_counted_once_per_handover",
                violation_error_message="A thing is counted once in a handover.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.thing} {self.fate}"
