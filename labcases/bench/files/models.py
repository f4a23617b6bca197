"""Lists of what logical work found, and what was decided about their files.

What can never be false: a list keeps the bytes it came as and is taken back as a whole, once, with a reason; a list
that was refused holds no files; a wanted line is tied to one thing at a time. Files are never rows here: they lie in
the vault as Parquet files under their digest, and rows point at them by their place in the list.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import models
from django.db.models import F, Q, Value
from django.db.models.functions import Coalesce
from django.urls import reverse

from labcases.bench.files.states import Counts
from labcases.cases.models import Item, Wanted
from labcases.core.models import Line, Prose, now
from labcases.lab.models import Entry

DIGEST: dict[str, Any] = {"personal": False, "max_length": 64}


class FileListQuerySet(models.QuerySet["FileList"]):
    def standing(self) -> FileListQuerySet:
        """Those that were kept and that nobody took back, oldest first."""
        return self.filter(state="kept", withdrawal=None).order_by("number")

    def behind(self) -> FileListQuerySet:
        """Standing ones whose states do not follow from the newest coverage, or from the newest ties."""
        newest = Coalesce("item__coverage__derivation__digest", Value(""))
        same = Q(current__version=F("version"), current__coverage=newest)
        return self.standing().exclude(same)


class FileList(Entry):
    """A list as it came, and the files in it once it was read. ``version`` rises with every tie to a wanted line."""

    class State(models.TextChoices):
        WAITING = "waiting", "waits to be read"
        READING = "reading", "is being read"
        KEPT = "kept", "kept"
        REFUSED = "refused", "refused"

    class Source(models.TextChoices):
        TABLE = "table", "table"
        STATION = "station", "bench computer"

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="file_lists")
    number = models.PositiveIntegerField(help_text="counts from 1 for each item")
    source = Line(personal=False, max_length=10, choices=Source.choices, default=Source.TABLE)
    name = Line(personal=True, blank=True, help_text="name of the file")
    file = Line(**DIGEST, help_text="SHA-256 of the bytes as they came, in the vault, hex")
    size = models.PositiveBigIntegerField(help_text="bytes of the file")
    how = models.JSONField(default=dict, help_text="how its columns and words were read")
    state = Line(personal=False, max_length=10, choices=State.choices, default=State.WAITING)
    beat = models.DateTimeField(null=True, help_text="when whoever reads it was last heard of")
    done = models.PositiveBigIntegerField(default=0, help_text="files read so far")
    rows = models.PositiveBigIntegerField(default=0, help_text="files in it")
    folders = models.PositiveBigIntegerField(default=0)
    bytes = models.PositiveBigIntegerField(default=0, help_text="sum of the sizes that are known")
    placed = models.PositiveBigIntegerField(default=0, help_text="files with extents")
    listed = Line(**DIGEST, blank=True, help_text="SHA-256 of its files as columns (Parquet), in the vault, hex")
    tree = Line(**DIGEST, blank=True, help_text="SHA-256 of its folders (Parquet), in the vault, hex")
    notes = models.JSONField(default=list, help_text="what was put right by rule, in sentences")
    trouble = Prose(personal=True, blank=True, help_text="why it was refused, in a sentence that may quote a cell")
    version = models.PositiveIntegerField(default=1)
    current = models.ForeignKey("FileStates", null=True, on_delete=models.SET_NULL, related_name="+")

    objects = FileListQuerySet.as_manager()

    class Meta:
        ordering = ["item_id", "number"]
        indexes = [models.Index(fields=["state"], name="file_list_by_state")]
        constraints = [
            models.UniqueConstraint(
                fields=["item", "number"],
                name="file_list_number_once_per_item",
                violation_error_message="A list of this number is there already.",
            ),
            models.CheckConstraint(
                condition=Q(state="kept") & ~Q(listed="") & ~Q(tree="") | ~Q(state="kept") & Q(listed="", tree=""),
                name="file_list_has_files_iff_kept",
                violation_error_message="A list holds files when it was read and kept, and only then.",
            ),
            models.CheckConstraint(
                condition=~Q(state="refused") | ~Q(trouble=""),
                name="refused_file_list_says_why",
                violation_error_message="Say why this list was refused.",
            ),
        ]

    def __str__(self) -> str:
        return f"list {self.number}"

    def get_absolute_url(self) -> str:
        return reverse("bench:file-list", args=[self.item.thing.printed_code, self.number])

    @property
    def going(self) -> bool:
        return self.state in (self.State.WAITING, self.State.READING)

    @property
    def so_far(self) -> str:
        return f"Reading the list: {self.done:,} files so far"


class FileListWithdrawal(Entry):
    """A list taken back as a whole."""

    list = models.OneToOneField(FileList, on_delete=models.PROTECT, related_name="withdrawal")
    because = Prose(personal=False)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(because=""),
                name="file_list_withdrawal_says_why",
                violation_error_message="Say why this list is withdrawn.",
            )
        ]

    def __str__(self) -> str:
        return f"withdrawal of {self.list}"


class FileStates(models.Model):
    """The states of a list's files, worked out from one coverage. They can be thrown away and worked out again."""

    list = models.ForeignKey(FileList, on_delete=models.PROTECT, related_name="derived")
    made = models.DateTimeField(default=now)
    version = models.PositiveIntegerField(help_text="the version of the list it was worked out from")
    coverage = Line(**DIGEST, blank=True, help_text="SHA-256 of the coverage; empty when there was none")
    states = Line(**DIGEST, help_text="SHA-256 of the states, a row a file (Parquet), in the vault, hex")
    folders = Line(**DIGEST, help_text="SHA-256 of the counts, a row a folder (Parquet), in the vault, hex")
    by_kind = models.JSONField(default=dict, help_text="kind of file to counts")
    by_wanted = models.JSONField(default=dict, help_text="key of a wanted line to counts")
    kinds_wanted = models.JSONField(default=dict, help_text="key of a wanted line to the kinds among its files")
    from_list = models.PositiveBigIntegerField(default=0, help_text="files whose state the list alone says")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"states of {self.list}"

    @property
    def kinds(self) -> Mapping[str, Counts]:
        return {kind: Counts.from_list(numbers) for kind, numbers in self.by_kind.items()}

    @property
    def wanted(self) -> Mapping[int, Counts]:
        return {int(pk): Counts.from_list(numbers) for pk, numbers in self.by_wanted.items()}

    @property
    def total(self) -> Counts:
        return sum(self.kinds.values(), Counts())


class WantedFiles(Entry):
    """What a wanted line asks for in a list: a folder, names like a pattern, or what lies in an area."""

    list = models.ForeignKey(FileList, on_delete=models.PROTECT, related_name="ties")
    wanted = models.ForeignKey(Wanted, on_delete=models.PROTECT, related_name="files")
    folder = models.PositiveIntegerField(null=True, help_text="rank of the folder")
    pattern = Line(personal=True, max_length=200, blank=True)
    area = models.ForeignKey("bench.ReadingArea", null=True, on_delete=models.PROTECT, related_name="files")
    name = Line(personal=True, help_text="the folder, pattern or area in words")
    dropped = models.DateTimeField(null=True, help_text="when it was taken out again")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(folder__isnull=False, pattern="", area=None)
                | Q(folder=None, area=None) & ~Q(pattern="")
                | Q(folder=None, pattern="", area__isnull=False),
                name="wanted_files_by_one_thing",
                violation_error_message="Name a folder, a pattern or an area: one of them.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class TakenFiles(Entry):
    """Whether the customer takes a folder with all under it, or one file; what is nearest to a file counts for it."""

    list = models.ForeignKey(FileList, on_delete=models.PROTECT, related_name="taken")
    folder = models.PositiveIntegerField(help_text="rank of the folder, or of the file's folder")
    row = models.PositiveBigIntegerField(null=True, help_text="place of the file in the list; none: the folder")
    size = models.BigIntegerField(default=-1, help_text="bytes of the file, -1 when not known")
    taken = models.BooleanField(default=True)

    class Meta:
        ordering = ["folder", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["list", "folder"],
                condition=Q(row=None),
                name="folder_taken_or_left_once",
                violation_error_message="This folder is ticked already.",
            ),
            models.UniqueConstraint(
                fields=["list", "row"],
                name="file_taken_or_left_once",
                violation_error_message="This file is ticked already.",
            ),
        ]

    def __str__(self) -> str:
        return "taken" if self.taken else "left"


class FileSample(Entry):
    """A file that somebody opened, or could not."""

    class Outcome(models.TextChoices):
        OPENED = "opened", "opened, and is what its name says"
        STRUCTURE = "structure", "cannot be opened here: structure checked"
        BROKEN = "broken", "does not open, or is something else"

    list = models.ForeignKey(FileList, on_delete=models.PROTECT, related_name="samples")
    row = models.PositiveBigIntegerField(help_text="place of the file in the list")
    path = Line(personal=True, help_text="as it was shown, the middle of a long one left out")
    kind = Line(personal=False, max_length=20)
    outcome = Line(personal=False, max_length=10, choices=Outcome.choices)
    words = Line(personal=True, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.path}: {self.get_outcome_display()}"
