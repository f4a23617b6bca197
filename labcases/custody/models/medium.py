"""What a medium says of itself: the base of patients, donors and destinations."""

from __future__ import annotations

from typing import Any

from django.db import models

from labcases.core.models import Line
from labcases.media.inside import heads_in, ids_in, offsets_in
from labcases.media.traits import Traits


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


# What a medium says of itself in words, compared as written.
WRITTEN = (
    "kind", "maker", "model", "serial", "firmware", "interface", "preamplifier", "board_number", "board_revision",
    "main_chip", "motor", "base_casting", "plant", "flash_controller", "bridge_number", "encryption_generation",
)  # fmt: skip


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
    board_revision = Line(personal=False, max_length=60, blank=True)
    main_chip = Line(personal=False, max_length=60, blank=True)
    preamplifier = Line(personal=False, max_length=60, blank=True)
    head_map = Line(personal=False, max_length=200, blank=True, help_text="positions of the heads fitted: 0 1 2 3")
    head_offsets = Line(personal=False, max_length=600, blank=True, help_text="one radial offset for each head")
    motor = Line(personal=False, max_length=60, blank=True)
    base_casting = Line(personal=False, max_length=60, blank=True)
    flash_controller = Line(personal=False, max_length=60, blank=True)
    flash_ids = Line(personal=False, max_length=600, blank=True, help_text="apart by semicolons, chip by chip")
    channels = models.PositiveSmallIntegerField(null=True, blank=True)
    bridge_number = Line(personal=False, max_length=60, blank=True)
    encryption_generation = Line(personal=False, max_length=60, blank=True)
    codes = models.JSONField(default=dict, blank=True, help_text="codes on its labels that the lab compares, by name")
    family = models.ForeignKey("stock.Family", null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        abstract = True

    def traits(self) -> Traits:
        """What is known, for matching. Heads and platters that nobody counted are those its family has at its size."""
        family = self.family
        heads, platters = family.inside(self.sectors, self.sector_bytes) if family else (None, None)
        head_map = heads_in(self.head_map)
        written: dict[str, Any] = {name: getattr(self, name) or None for name in WRITTEN}
        return Traits(
            family=str(family) if family else None,
            sectors=self.sectors,
            sector_bytes=self.sector_bytes,
            heads=self.heads or len(head_map) or heads,
            head_map=head_map,
            platters=self.platters or platters,
            made=self.made,
            head_offsets=offsets_in(self.head_offsets),
            flash_ids=ids_in(self.flash_ids),
            channels=self.channels,
            codes=tuple(self.codes.items()),
            **written,
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
