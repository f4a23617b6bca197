"""Things with a code, where they are and who has them.

What can never be false: a code names one thing; a thing is with one holder at most.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.functional import cached_property

from labcases.core import codes
from labcases.core.models import Batch, Line, ShownManager
from labcases.core.text import folded_serial
from labcases.lab.models import Place, Staff

if TYPE_CHECKING:
    from labcases.custody.models.photo import Photo


class Series(models.Model):
    """The last number given in a series of codes (``26`` for this year's cases, ``D`` for donors …)."""

    name = Line(personal=False, max_length=20, unique=True)
    last = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.name} {self.last}"


class ThingQuerySet(models.QuerySet["Thing"]):
    def in_the_lab(self) -> ThingQuerySet:
        """Everything that is at a place of the lab or with one of its people."""
        return self.exclude(place=None, staff=None)

    def with_whereabouts(self) -> ThingQuerySet:
        return self.select_related("place", "staff", "party")

    def known_by_serial(self, serial: str) -> ThingQuerySet:
        """Things with this serial, however it was typed; none when the serial says too little."""
        key = folded_serial(serial)
        return self.filter(serial_folded=key) if len(key) >= 4 else self.none()


class Thing(models.Model):
    """Anything with a code: a docket, a patient, an accessory, a donor, a part, a destination, a delivery medium."""

    class Kind(models.TextChoices):
        DOCKET = "docket", "docket"
        PATIENT = "patient", "patient"
        ACCESSORY = "accessory", "accessory"
        CHIP = "chip", "chip"
        DONOR = "donor", "donor"
        PART = "part", "donor part"
        DESTINATION = "destination", "destination"
        DELIVERY = "delivery", "delivery medium"

    code = Line(personal=False, max_length=30, unique=True, help_text="folded, with its check character")
    kind = Line(personal=False, max_length=20, choices=Kind.choices)
    words = Line(personal=False, help_text="what it is, in a few words")
    serial_folded = Line(personal=False, max_length=100, blank=True, db_index=True)
    place = models.ForeignKey(Place, null=True, blank=True, on_delete=models.PROTECT, related_name="things")
    staff = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="things_held")
    party = models.ForeignKey("people.Party", null=True, on_delete=models.PROTECT, related_name="things_held")
    last_event = models.PositiveBigIntegerField(default=0, help_text="sequence of its last event")
    last_moved = models.DateTimeField(null=True)
    batch = models.ForeignKey(Batch, null=True, on_delete=models.PROTECT, related_name="+", help_text="came in with it")
    gone = models.BooleanField(default=False, help_text="destroyed: it is nowhere any more")
    line = models.JSONField(default=dict, help_text="how its line stands: what its next event is judged by")
    breaks_open = models.PositiveSmallIntegerField(default=0, help_text="breaks in its line that nobody has answered")
    worst_break = Line(personal=False, max_length=20, blank=True, help_text="the gravest grade of those")

    objects = ShownManager.from_queryset(ThingQuerySet)()

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                condition=Q(staff=None) | Q(party=None),
                name="thing_has_one_holder",
                violation_error_message="A thing is with one holder at a time.",
            ),
            models.CheckConstraint(
                condition=Q(gone=False) | Q(place=None, staff=None, party=None),
                name="thing_destroyed_is_nowhere",
                violation_error_message="What was destroyed is nowhere any more.",
            ),
        ]
        indexes = [models.Index(fields=["worst_break"], condition=Q(breaks_open__gt=0), name="thing_with_breaks")]

    def __str__(self) -> str:
        return codes.printed(self.code)

    @property
    def printed_code(self) -> str:
        return codes.printed(self.code)

    @cached_property
    def shown_photos(self) -> list[Photo]:
        """Its photos, oldest first; lists prefetch them (``photos.queries.with_photos``)."""
        return list(self.photos.standing().select_related("thing"))

    @property
    def whereabouts(self) -> Whereabouts:
        return Whereabouts(place=self.place, staff=self.staff, party=self.party, gone=self.gone)

    @property
    def seals_on(self) -> list[str]:
        """Numbers of the seals that are on it now."""
        return list(self.line.get("seals", []))

    @property
    def is_powered(self) -> bool:
        """Whether a power session has begun and not ended."""
        return bool(self.line.get("powered"))


@dataclass(frozen=True)
class Whereabouts:
    """Where a thing is and who has it. A place of the lab, a colleague, a party outside, or not known."""

    place: Place | None = None
    staff: Staff | None = None
    party: Any | None = None
    gone: bool = False

    @classmethod
    def of(cls, to: Whereabouts | Place | Staff | Any) -> Whereabouts:
        """From a place, a colleague or a party."""
        if isinstance(to, Whereabouts):
            return to
        if isinstance(to, Place):
            return cls(place=to)
        return cls(staff=to) if isinstance(to, Staff) else cls(party=to)

    def refs(self) -> dict[str, str | None]:
        """Opaque ids for the ledger: who holds it and where it lies."""
        holder = f"staff:{self.staff.ref}" if self.staff else f"party:{self.party.ref}" if self.party else None
        return {"holder": holder, "place": f"place:{self.place.ref}" if self.place else None}

    @property
    def holder_name(self) -> str:
        return str(self.staff or self.party or "")

    def __str__(self) -> str:
        if self.gone:
            return "destroyed"
        names = [str(part) for part in (self.staff, self.party, self.place) if part]
        return ", ".join(names) or "not known"
