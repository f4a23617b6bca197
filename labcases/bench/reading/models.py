"""What was read of a patient, as it was told, and what is worked out from it.

What can never be false: an upload keeps the bytes it came as and is taken back as a whole, once, with a reason; a
coverage's counts add up to the medium; a newer layout, map of heads or plan stands beside the older one and never
replaces it. Spans are never rows here: they lie in the vault as Parquet files under their digest.
"""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from labcases.cases.models import Item, Wanted
from labcases.core.models import Line, Prose
from labcases.lab.models import Entry

DIGEST: dict[str, Any] = {"personal": False, "max_length": 64}


class CoverageUploadQuerySet(models.QuerySet["CoverageUpload"]):
    def standing(self) -> CoverageUploadQuerySet:
        """Those that nobody took back, oldest first: the order in which they are laid over one another."""
        return self.filter(withdrawal=None).order_by("happened", "number")


class CoverageUpload(Entry):
    """Spans of one pass, one table or one entry by hand, as they came. ``verb`` says what they do to what is known."""

    class Source(models.TextChoices):
        TABLE = "table", "table"
        HAND = "hand", "by hand"
        STATION = "station", "bench computer"

    class Verb(models.TextChoices):
        OVERLAY = "overlay", "lays over what is known"
        WITHDRAW = "withdraw", "takes back what is known"

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="coverage_uploads")
    number = models.PositiveIntegerField(help_text="counts from 1 for each item")
    source = Line(personal=False, max_length=10, choices=Source.choices)
    verb = Line(personal=False, max_length=10, choices=Verb.choices, default=Verb.OVERLAY)
    name = Line(personal=True, blank=True, help_text="name of the file, or the words it was entered with")
    pass_number = models.PositiveSmallIntegerField(default=1)
    head = models.PositiveSmallIntegerField(null=True, blank=True)
    because = Prose(personal=False, blank=True, help_text="why sectors are doubted or taken back")
    file = Line(**DIGEST, help_text="SHA-256 of the bytes as they came, in the vault, hex")
    size = models.PositiveBigIntegerField(help_text="bytes of the file")
    spans = Line(**DIGEST, help_text="SHA-256 of the spans as columns (Parquet), in the vault, hex")
    rows = models.PositiveBigIntegerField(help_text="spans in it")
    signature = Line(**DIGEST, blank=True, help_text="SHA-256 over the headers of its table")
    how = models.JSONField(default=dict, help_text="how its columns and words were read")
    notes = models.JSONField(default=list, help_text="what was put right by rule, in sentences")

    objects = CoverageUploadQuerySet.as_manager()

    class Meta:
        ordering = ["item_id", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["item", "number"],
                name="coverage_upload_number_once_per_item",
                violation_error_message="An upload of this number is there already.",
            ),
            models.CheckConstraint(
                condition=~Q(file="") & ~Q(spans=""),
                name="coverage_upload_keeps_its_bytes",
                violation_error_message="An upload keeps the bytes it came as.",
            ),
            models.CheckConstraint(
                condition=Q(verb="overlay") | Q(verb="withdraw") & ~Q(because=""),
                name="sectors_taken_back_say_why",
                violation_error_message="Say why these sectors are taken back.",
            ),
        ]

    def __str__(self) -> str:
        return f"upload {self.number}"

    def get_absolute_url(self) -> str:
        return reverse("bench:coverage-upload", args=[self.item.thing.printed_code, self.number])


class CoverageWithdrawal(Entry):
    """An upload taken back as a whole."""

    upload = models.OneToOneField(CoverageUpload, on_delete=models.PROTECT, related_name="withdrawal")
    because = Prose(personal=False)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(because=""),
                name="withdrawal_says_why",
                violation_error_message="Say why this upload is withdrawn.",
            )
        ]

    def __str__(self) -> str:
        return f"withdrawal of {self.upload}"


class Derivation(models.Model):
    """A coverage worked out from uploads. It can be thrown away and worked out again."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="derivations")
    made = models.DateTimeField(auto_now_add=True)
    digest = Line(**DIGEST, help_text="SHA-256 of the coverage (Parquet), in the vault, hex")
    uploads = Prose(personal=False, blank=True, help_text="numbers of the uploads it was worked out from: 1-4,6")
    total_sectors = models.PositiveBigIntegerField()
    runs = models.PositiveBigIntegerField()
    read = models.PositiveBigIntegerField()
    doubtful = models.PositiveBigIntegerField()
    unreadable = models.PositiveBigIntegerField()
    skipped = models.PositiveBigIntegerField()
    left_out = models.PositiveBigIntegerField()
    unreached = models.PositiveBigIntegerField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    total_sectors=F("read")
                    + F("doubtful")
                    + F("unreadable")
                    + F("skipped")
                    + F("left_out")
                    + F("unreached")
                ),
                name="coverage_counts_add_up",
                violation_error_message="The counts of a coverage add up to the sectors of the medium.",
            )
        ]

    def __str__(self) -> str:
        return f"coverage of {self.item} from uploads {self.uploads}"


class ItemCoverage(models.Model):
    """Where an item's coverage stands: every upload and every withdrawal raises ``version``; working it out follows."""

    item = models.OneToOneField(Item, on_delete=models.PROTECT, related_name="coverage")
    version = models.PositiveIntegerField(default=0)
    derived = models.PositiveIntegerField(default=0, help_text="the version that the derivation holds")
    derivation = models.ForeignKey(Derivation, null=True, on_delete=models.SET_NULL, related_name="+")
    trouble = Prose(personal=False, blank=True, help_text="why it cannot be worked out, in a sentence")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(derived__lte=F("version")),
                name="coverage_follows_its_uploads",
                violation_error_message="A coverage holds no more than was uploaded.",
            )
        ]

    def __str__(self) -> str:
        return f"coverage of {self.item}, version {self.version}"

    @property
    def up_to_date(self) -> bool:
        return self.derived == self.version


class KeptLayout(Entry):
    """How an item is divided, as read from its clone or typed; the newest one counts."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="layouts")
    source = Line(personal=True, blank=True, help_text="name of the file it was read from")
    kind = Line(personal=False, max_length=10, help_text="gpt, mbr, none or typed")
    status = Line(personal=False, max_length=100, blank=True)
    sector_bytes = models.PositiveIntegerField(default=512)
    parts = models.JSONField(default=list, help_text="number, first_lba, sectors, type_name, name, volume of each part")
    warnings = models.JSONField(default=list)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"layout of {self.item}"


class HeadMap(Entry):
    """Which head reads which sectors; the newest one counts."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="head_maps")
    name = Line(personal=True, blank=True, help_text="name of the file")
    file = Line(**DIGEST, help_text="SHA-256 of the table as it came, in the vault, hex")
    spans = Line(**DIGEST, help_text="SHA-256 of first, sectors, head as columns (Parquet), in the vault, hex")
    rows = models.PositiveBigIntegerField()
    heads = models.JSONField(help_text="the numbers of the heads in it")
    low_is_outer = models.BooleanField(default=True, help_text="low sector numbers lie on outer tracks")
    notes = models.JSONField(default=list)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"heads by sector of {self.item}"


class HeadVerdict(Entry):
    """What somebody decided about a head, over what its errors and delays say; the newest one of a head counts."""

    class State(models.TextChoices):
        GOOD = "good", "good"
        SLOW = "slow", "slow"
        WEAK = "weak", "weak"
        DEAD = "dead", "dead"
        LEFT_OUT = "left_out", "left out"
        COMPUTED = "computed", "as its readings say"

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="head_verdicts")
    head = models.PositiveSmallIntegerField()
    state = Line(personal=False, max_length=10, choices=State.choices)
    because = Prose(personal=False)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"head {self.head}: {self.get_state_display()}"


class ReadingArea(Entry):
    """Where something lies: structures of the file system, or what a wanted line asks for."""

    class Purpose(models.TextChoices):
        STRUCTURES = "structures", "structures of the file system"
        WANTED = "wanted", "wanted"

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="areas")
    purpose = Line(personal=False, max_length=10, choices=Purpose.choices)
    wanted = models.ForeignKey(Wanted, null=True, blank=True, on_delete=models.PROTECT, related_name="areas")
    name = Line(personal=True, help_text="partition, folder or file")
    spans = Line(**DIGEST, help_text="SHA-256 of its spans (Parquet), in the vault, hex")
    sectors = models.PositiveBigIntegerField()
    dropped = models.DateTimeField(null=True, help_text="when it was taken out again")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(purpose="structures", wanted=None) | Q(purpose="wanted", wanted__isnull=False),
                name="wanted_area_names_its_line",
                violation_error_message="A wanted area names the line of the wanted list it belongs to.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class PlanVersion(Entry):
    """What to read next, in order, as it was worked out at one moment."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="plans")
    number = models.PositiveIntegerField()
    derivation = models.ForeignKey(Derivation, null=True, on_delete=models.PROTECT, related_name="plans")
    asked = models.JSONField(help_text="pass, damage, heads, areas and steps it was made for")
    kept_back = models.JSONField(default=dict, help_text="sectors not read that this pass leaves alone, by reason")
    file = Line(**DIGEST, help_text="SHA-256 of its lines (Parquet), in the vault, hex")
    spans = models.PositiveBigIntegerField()
    sectors = models.PositiveBigIntegerField()

    class Meta:
        ordering = ["item_id", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["item", "number"],
                name="plan_number_once_per_item",
                violation_error_message="A plan of this number is there already.",
            )
        ]

    def __str__(self) -> str:
        return f"plan {self.number}"

    def get_absolute_url(self) -> str:
        return reverse("bench:plan", args=[self.item.thing.printed_code, self.number])


class Progress(Entry):
    """At this moment so much had been read, in this pass, by this head, counted from the beginning of both."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="progress")
    pass_number = models.PositiveSmallIntegerField(default=1)
    head = models.PositiveSmallIntegerField(null=True, blank=True)
    sectors = models.PositiveBigIntegerField()
    wanted_bytes = models.PositiveBigIntegerField(default=0)

    class Meta:
        ordering = ["happened", "pk"]
        indexes = [models.Index(fields=["item", "happened"], name="progress_of_item")]
        constraints = [
            models.UniqueConstraint(
                fields=["item", "pass_number", "head", "happened"],
                name="one_progress_a_moment_of_a_head",
                violation_error_message="There is a reading of this pass and head at that moment already.",
            ),
            models.UniqueConstraint(
                fields=["item", "pass_number", "happened"],
                condition=Q(head=None),
                name="one_progress_a_moment_of_a_pass",
                violation_error_message="There is a reading of this pass at that moment already.",
            ),
        ]

    def __str__(self) -> str:
        return f"pass {self.pass_number}: {self.sectors:,} sectors"
