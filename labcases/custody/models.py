"""Things, the ledger of what happened to them, and what a thing says of itself.

What can never be false: a code names one thing; a thing is with one holder at most; an event is never changed or
removed (triggers in the database refuse it), its number follows the one before it, and its bytes are kept as hashed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils.functional import cached_property

from labcases.core import codes
from labcases.core.models import Line, Prose
from labcases.core.text import folded_serial
from labcases.custody.signing import SignedHead
from labcases.lab.models import Entry, Place, Staff
from labcases.media.traits import Traits


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

    objects = ThingQuerySet.as_manager()

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                condition=Q(staff=None) | Q(party=None),
                name="thing_has_one_holder",
                violation_error_message="A thing is with one holder at a time.",
            )
        ]

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
        return Whereabouts(place=self.place, staff=self.staff, party=self.party)


@dataclass(frozen=True)
class Whereabouts:
    """Where a thing is and who has it. A place of the lab, a colleague, a party outside, or not known."""

    place: Place | None = None
    staff: Staff | None = None
    party: Any | None = None

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
        names = [str(part) for part in (self.staff, self.party, self.place) if part]
        return ", ".join(names) or "not known"


class Head(models.Model):
    """The ledger's head: one row, locked first by everything that records."""

    sequence = models.PositiveBigIntegerField(default=0)
    digest = Line(personal=False, max_length=64, blank=True, help_text="leaf hash of the last event, hex")
    peaks = models.JSONField(default=list, help_text="hashes of the largest complete subtrees, left to right, hex")
    root = Line(personal=False, max_length=64, blank=True, help_text="root over all events, RFC 9162, hex")
    signed = Line(personal=False, max_length=40, blank=True, help_text="when it was signed, RFC 3339")
    signature = Line(personal=False, max_length=128, blank=True, help_text="Ed25519, hex")
    key = Line(personal=False, max_length=64, blank=True, help_text="public key this ledger was begun with, hex")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(pk=1), name="one_ledger_head", violation_error_message="The ledger has one head."
            )
        ]

    def __str__(self) -> str:
        return f"event {self.sequence}"

    def as_signed(self) -> SignedHead:
        return SignedHead(self.sequence, self.root, self.signed, self.signature, self.key)


class TreeNode(models.Model):
    """A complete subtree's hash, above the leaves (those are the events' own digests). Never changes."""

    level = models.PositiveSmallIntegerField()
    index = models.PositiveBigIntegerField()
    digest = Line(personal=False, max_length=64)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["level", "index"], name="one_tree_node", violation_error_message="A subtree has one hash."
            )
        ]

    def __str__(self) -> str:
        return f"node {self.level}/{self.index}"


class KeptHead(models.Model):
    """A signed head that is kept for ever: one a day, one at each handover, and whatever a witness was sent."""

    size = models.PositiveBigIntegerField(unique=True)
    root = Line(personal=False, max_length=64)
    signed = Line(personal=False, max_length=40)
    signature = Line(personal=False, max_length=128)
    key = Line(personal=False, max_length=64)
    because = Line(personal=False, max_length=100)

    class Meta:
        ordering = ["-size"]

    def __str__(self) -> str:
        return f"head of {self.size} events"

    def as_signed(self) -> SignedHead:
        return SignedHead(self.size, self.root, self.signed, self.signature, self.key)


class LedgerCheck(models.Model):
    """One walk through the whole ledger, as the worker does every night, and what it found."""

    started = models.DateTimeField()
    ended = models.DateTimeField()
    size = models.PositiveBigIntegerField(help_text="events walked through")
    holds = models.BooleanField()
    findings = models.JSONField(default=list, help_text="detector, sequence and sentence of each, the first ones")

    class Meta:
        ordering = ["-ended", "-pk"]

    def __str__(self) -> str:
        return f"check of {self.size} events"


class NeverChanged(models.QuerySet["Event"]):
    def update(self, **changes: Any) -> int:
        raise TypeError("Events are history: record a correction instead.")

    def delete(self) -> Any:
        raise TypeError("Events are history: record a correction instead.")


class Event(models.Model):
    """One event. ``body`` holds the canonical bytes that were hashed; the columns beside it only serve searching."""

    sequence = models.PositiveBigIntegerField(primary_key=True)
    body = models.BinaryField()
    digest = Line(personal=False, max_length=64, unique=True, help_text="leaf hash of the body, hex")
    kind = Line(personal=False, max_length=40)
    thing_code = Line(personal=False, max_length=30, blank=True)
    case_code = Line(personal=False, max_length=30, blank=True)
    actor_ref = Line(personal=False, max_length=36, blank=True)
    role = Line(personal=False, max_length=20)
    happened = models.DateTimeField()
    entered = models.DateTimeField()
    corrects = models.PositiveBigIntegerField(null=True)

    objects = NeverChanged.as_manager()

    class Meta:
        ordering = ["sequence"]
        indexes = [
            models.Index(fields=["case_code", "-sequence"], name="event_of_case"),
            models.Index(fields=["thing_code", "-sequence"], name="event_of_thing"),
        ]

    def __str__(self) -> str:
        return f"{self.sequence} {self.kind}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError("Events are history: record a correction instead.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> Any:
        raise TypeError("Events are history: record a correction instead.")


class EventText(models.Model):
    """The words and names of an event, kept beside the ledger so that they can be erased.

    The ledger holds only their salted commitments: with text and salt gone, the chain still verifies.
    """

    sequence = models.PositiveBigIntegerField()
    field = Line(personal=False, max_length=20)
    salt = models.BinaryField(max_length=32)
    text = Prose(personal=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["sequence", "field"],
                name="one_text_per_event_and_field",
                violation_error_message="An event has one text of each kind.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.sequence} {self.field}"


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


class MediumKind(models.TextChoices):
    """What people bring (and what stands in stock)."""

    DISK_35 = "disk35", "3.5″ disk"
    DISK_25 = "disk25", "2.5″ disk"
    DISK_18 = "disk18", "1.8″ disk"
    HELIUM = "helium", "helium-filled disk"
    EXTERNAL = "external", "external disk"
    SSD = "ssd", "SSD"
    NVME = "nvme", "M.2 or NVMe SSD"
    SOLDERED = "soldered", "soldered storage"
    STICK = "stick", "stick"
    CARD = "card", "memory card"
    ONE_PIECE = "onepiece", "one-piece card"
    FLASH_CHIP = "flashchip", "bare flash chip"
    EMBEDDED = "embedded", "eMMC or UFS"
    PHONE = "phone", "phone or tablet"
    RECORDER = "recorder", "recorder or camera"
    NAS = "nas", "NAS box"
    ARRAY_MEMBER = "member", "array member"
    TAPE = "tape", "tape"
    OPTICAL = "optical", "optical disc"
    FLOPPY = "floppy", "floppy"
    OTHER = "other", "something else"


SPINNING = frozenset(
    (
        MediumKind.DISK_35,
        MediumKind.DISK_25,
        MediumKind.DISK_18,
        MediumKind.HELIUM,
        MediumKind.EXTERNAL,
        MediumKind.ARRAY_MEMBER,
    )
)


class Medium(models.Model):
    """Base of whatever has a label and sectors: patients, donors, destinations. Blank and null mean not known."""

    kind = Line(personal=False, max_length=20, choices=MediumKind.choices)
    kind_words = Line(
        personal=False, max_length=100, blank=True, help_text="what it is, when the list has no word for it"
    )
    maker = Line(personal=False, max_length=100, blank=True)
    model = Line(personal=False, max_length=100, blank=True)
    serial = Line(personal=False, max_length=100, blank=True)
    firmware = Line(personal=False, max_length=60, blank=True)
    interface = Line(personal=False, max_length=40, blank=True)
    sectors = models.PositiveBigIntegerField(null=True, blank=True)
    sector_bytes = models.PositiveIntegerField(null=True, blank=True)
    heads = models.PositiveSmallIntegerField(null=True, blank=True)
    platters = models.PositiveSmallIntegerField(null=True, blank=True)
    made = models.DateField(null=True, blank=True)
    plant = Line(personal=False, max_length=60, blank=True)
    board_number = Line(personal=False, max_length=60, blank=True)
    preamplifier = Line(personal=False, max_length=60, blank=True)
    family = models.ForeignKey("stock.Family", null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        abstract = True

    def traits(self) -> Traits:
        """What is known, for matching. Heads and platters that nobody counted are those its whole family has."""
        return Traits(
            kind=self.kind or None,
            family=str(self.family) if self.family else None,
            maker=self.maker or None,
            model=self.model or None,
            serial=self.serial or None,
            firmware=self.firmware or None,
            interface=self.interface or None,
            sectors=self.sectors,
            sector_bytes=self.sector_bytes,
            heads=self.heads or (self.family.heads if self.family else None),
            platters=self.platters or (self.family.platters if self.family else None),
            preamplifier=self.preamplifier or None,
            board_number=self.board_number or None,
            plant=self.plant or None,
            made=self.made,
        )

    @property
    def bytes(self) -> int | None:
        """Capacity in bytes, when sectors and their size are known."""
        return self.sectors * (self.sector_bytes or 512) if self.sectors else None

    @property
    def medium_words(self) -> str:
        """A few words for lists and labels: the kind, then the maker and model as far as known."""
        kind = self.kind_words if self.kind == MediumKind.OTHER and self.kind_words else self.get_kind_display()
        name = " ".join(part for part in (self.maker, self.model) if part)
        return f"{kind}, {name}" if name else kind
