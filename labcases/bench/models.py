"""What was found, what was done and what came of it."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from labcases.bench.arrays.models import ArrayFinding  # noqa: F401 known to the room through here
from labcases.bench.files.models import FileList  # noqa: F401 known to the room through here
from labcases.bench.presence.models import Presence  # noqa: F401 known to the room through here
from labcases.bench.protocols.models import (  # noqa: F401 known to the room through here
    KeptProtocol,
    OrderNote,
    ProtocolVersion,
)
from labcases.bench.reading.models import CoverageUpload  # noqa: F401 known to the room through here
from labcases.bench.records.models import Competence, LogLine, Mishap  # noqa: F401 known to the room through here
from labcases.bench.stations.models import Equipment, Port, Session  # noqa: F401 known to the room through here
from labcases.cases.models import Item, Wanted
from labcases.core.models import Line, Prose
from labcases.custody.models import Photo
from labcases.lab.models import Entry


class FaultClass(models.TextChoices):
    """Common practice of the trade, no source; one patient can have several."""

    BOARD = "board", "board or electrical"
    PREAMPLIFIER = "preamplifier", "preamplifier"
    HEADS = "heads", "heads"
    STUCK = "stuck", "stuck heads"
    MOTOR = "motor", "spindle or motor"
    SURFACE = "surface", "platter surface"
    SERVICE_AREA = "service area", "firmware or service area"
    READING = "reading", "unstable reading"
    LOGICAL = "logical", "file system or logical"
    DELETED = "deleted", "deleted, formatted or overwritten"
    LOCKED = "locked", "encryption or lock"
    FLASH_CONTROLLER = "flash controller", "flash controller"
    FLASH_WEAR = "flash wear", "flash wear"
    ARRAY = "array", "array configuration"
    CONNECTOR = "connector", "connector"
    BRIDGE = "bridge", "bridge"
    NONE = "none", "not faulty"


class Sound(models.TextChoices):
    """What a spinning medium sounds like, in words."""

    QUIET = "quiet", "spins quietly"
    SILENT = "silent", "does not spin"
    CLICKS = "clicks", "clicks evenly"
    ODD_CLICKS = "odd clicks", "clicks and stops"
    BEEPS = "beeps", "beeps or hums: stuck heads or motor"
    SCRAPES = "scrapes", "scrapes"
    RATTLES = "rattles", "something is loose"


class Prospects(models.TextChoices):
    GOOD = "good", "good"
    FAIR = "fair", "fair"
    POOR = "poor", "poor"
    NONE = "none", "none"


class Examination(Entry):
    """One look at a patient: findings with their evidence, and what is to be expected."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="examinations")
    faults = models.JSONField(default=list)
    found = Prose(personal=True, help_text="what was seen and measured")
    inside = models.BooleanField(default=False, help_text="opened and inspected in clean air")
    prospects = Line(personal=False, max_length=10, choices=Prospects.choices)
    would_change = Prose(personal=False, blank=True, help_text="what would change the prospects")
    needs_part = Line(personal=False, max_length=100, blank=True)
    parts = models.JSONField(default=list, blank=True, help_text="kinds of donor parts that are needed")
    readings = models.JSONField(default=list, blank=True, help_text="[[what, value, unit]] as measured")
    sounds = models.JSONField(default=list, blank=True)
    shown: list[Evidence]  # by ``with_evidence``
    hours_people = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    hours_machine = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"examination of {self.item}"

    @property
    def fault_words(self) -> str:
        return ", ".join(FaultClass(fault).label for fault in self.faults)

    @property
    def reading_lines(self) -> list[str]:
        return [f"{what}: {value} {unit}" for what, value, unit in self.readings]

    @property
    def sound_words(self) -> str:
        return ", ".join(Sound(sound).label for sound in self.sounds)

    @property
    def shown_by(self) -> list[tuple[str, list[Photo]]]:
        """Its photos by what they show: the findings as a whole (no word), then each fault (prefetch as ``shown``)."""
        held = [one for one in self.shown if not one.photo.withdrawn]
        photos = {fault: [one.photo for one in held if one.fault == fault] for fault in ("", *self.faults)}
        return [(FaultClass(fault).label if fault else "", some) for fault, some in photos.items() if some]


class EvidenceQuerySet(models.QuerySet["Evidence"]):
    def standing(self) -> EvidenceQuerySet:
        return self.filter(dropped=None).select_related("photo__thing").order_by("photo_id")


class Evidence(Entry):
    """A photo that shows what was found: of one fault, or of the findings as a whole."""

    examination = models.ForeignKey(Examination, on_delete=models.PROTECT, related_name="evidence")
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="evidence")
    fault = Line(personal=False, max_length=20, blank=True, choices=FaultClass.choices, help_text="empty: all of it")
    dropped = models.DateTimeField(null=True, help_text="when it was said to show something else")

    objects = EvidenceQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["examination", "photo"],
                condition=Q(dropped=None),
                name="evidence_once",
                violation_error_message="This photo is with these findings already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.photo} of {self.examination}"


class Step(Entry):
    """One thing that was done to a patient, with any change that could not be avoided."""

    class Wrote(models.TextChoices):
        NOTHING = "", "nothing"
        FIRMWARE = "firmware", "its firmware, ROM or service area"
        USER_AREA = "user-area", "its user area"

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="steps")
    what = Prose(personal=True)
    method = Line(personal=False, max_length=200, blank=True)
    change = Prose(personal=False, blank=True, help_text="a change to the patient that could not be avoided, and why")
    wrote = Line(personal=False, max_length=10, blank=True, choices=Wrote.choices, help_text="what was written on it")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(wrote="") | Q(wrote="firmware") & ~Q(change=""),
                name="written_firmware_says_why",
                violation_error_message="Say what was written, and why; the user area of a patient is never written.",
            )
        ]

    def __str__(self) -> str:
        return self.what[:60]


class Result(Entry):
    """What came of it, in numbers; the newest one counts."""

    class Compared(models.TextChoices):
        FULL = "full", "every file compared with the clone"
        SAMPLED = "sampled", "samples compared with the clone"
        NOT = "not", "not compared"

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="results")
    sectors_read = models.PositiveBigIntegerField(null=True, blank=True)
    sectors_total = models.PositiveBigIntegerField(null=True, blank=True)
    files = models.PositiveBigIntegerField(null=True, blank=True)
    bytes = models.PositiveBigIntegerField(null=True, blank=True)
    compared = Line(personal=False, max_length=10, choices=Compared.choices, default=Compared.NOT)
    malware_check = Line(personal=False, max_length=200, blank=True)
    samples = Prose(personal=True, blank=True, help_text="which samples were opened, and by whom")
    not_recovered = Prose(personal=True, blank=True, help_text="what was not recovered, and why")

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(sectors_read=None) | Q(sectors_total=None) | Q(sectors_read__lte=F("sectors_total")),
                name="no_more_sectors_read_than_there_are",
                violation_error_message="More sectors read than there are.",
            )
        ]

    def __str__(self) -> str:
        return f"result of {self.item}"


class WantedResult(models.Model):
    """The answer to one line of the wanted list."""

    class State(models.TextChoices):
        WHOLE = "whole", "whole"
        PARTIAL = "partial", "partial"
        NOT = "not", "not recovered"
        UNKNOWN = "unknown", "not known"

    result = models.ForeignKey(Result, on_delete=models.PROTECT, related_name="wanted")
    wanted = models.ForeignKey(Wanted, on_delete=models.PROTECT, related_name="results")
    state = Line(personal=False, max_length=10, choices=State.choices)
    words = Line(personal=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["result", "wanted"],
                name="one_answer_per_wanted_line",
                violation_error_message="Each wanted line has one answer in a result.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.wanted}: {self.state}"

    @property
    def sign(self) -> str:
        """The mark it is shown under."""
        return "different" if self.state == self.State.NOT else self.state


class Dump(Entry):
    """A small file read from an item or belonging to a family: ROM, service area, chip, key. Worth more every year."""

    class Kind(models.TextChoices):
        ROM = "rom", "ROM"
        MODULE = "module", "service-area module"
        TRACK = "track", "service-area track"
        CHIP = "chip", "chip read"
        KEY = "key", "key"

    class Outcome(models.TextChoices):
        WHOLE = "whole", "whole"
        PARTLY = "partly", "partly"
        NOT_REACHABLE = "not reachable", "not reachable"
        NOT_WORTH = "not worth", "not worth the stress"

    WITH_FILE = (Outcome.WHOLE, Outcome.PARTLY)

    kind = Line(personal=False, max_length=10, choices=Kind.choices)
    name = Line(personal=False, max_length=100, blank=True, help_text="which module, track or chip")
    item = models.ForeignKey(Item, null=True, blank=True, on_delete=models.PROTECT, related_name="dumps")
    family = models.ForeignKey("stock.Family", null=True, blank=True, on_delete=models.PROTECT, related_name="dumps")
    outcome = Line(personal=False, max_length=20, choices=Outcome.choices)
    file = Line(personal=False, max_length=64, blank=True, help_text="SHA-256 of the file in the vault, hex")
    second = Line(personal=False, max_length=64, blank=True, help_text="SHA-256 of the second reading, hex")
    size = models.PositiveBigIntegerField(null=True, blank=True, help_text="bytes")
    note = Prose(personal=False, blank=True)

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["family", "kind"], name="dump_of_family")]
        constraints = [
            models.CheckConstraint(
                condition=Q(item__isnull=False) | Q(family__isnull=False),
                name="dump_of_item_or_family",
                violation_error_message="A dump is of an item or of a family.",
            ),
            models.CheckConstraint(
                condition=Q(outcome__in=["whole", "partly"], size__isnull=False) & ~Q(file="")
                | Q(outcome__in=["not reachable", "not worth"], file="", second="", size=None),
                name="dump_has_its_file_iff_read",
                violation_error_message="What was read has its file; what was not read has none.",
            ),
        ]

    def __str__(self) -> str:
        kind = self.get_kind_display()
        if self.name.casefold().startswith(kind.casefold()):
            return self.name
        return f"{kind}: {self.name}" if self.name else kind

    def get_absolute_url(self) -> str:
        return reverse("bench:dump", args=[self.pk])

    @property
    def twice(self) -> bool | None:
        """Whether two readings gave the same bytes; None when it was read once only."""
        return self.second == self.file if self.second else None
