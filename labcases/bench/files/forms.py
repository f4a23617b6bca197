"""Forms around lists of files: the list, what its columns mean, what is sought, ticks, ties, samples."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from labcases.bench.files.cells import MEANS, words_in
from labcases.bench.files.columns import CHECK_WORDS, COLUMNS
from labcases.bench.files.models import FileList, FileSample
from labcases.bench.files.paths import KINDS, shown
from labcases.bench.files.source import Source
from labcases.bench.files.states import STATES, UNKNOWN, WORDS
from labcases.bench.reading.models import ReadingArea
from labcases.bench.reading.parts import name_of
from labcases.bench.reading.queries import Read
from labcases.cases.models import Item
from labcases.core.forms import HappenedField, LabForm, LineField
from labcases.core.importing import guess

MOST_BYTES = 96 << 20
MOST_WORDS = 20
PREFIX = "word"


class ListFileForm(LabForm):
    """The list; what it says is asked next."""

    file = forms.FileField(
        label="List",
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt,.gz,.xlsx,.parquet"}),
        help_text="A line a file: CSV (packed with gzip when it is long), Parquet or XLSX.",
        error_messages={"required": "Choose the list.", "empty": "The file is empty."},
    )
    unhashed = frozenset({"file"})

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise ValidationError(f"The file is larger than {MOST_BYTES >> 20} MiB. Pack it with gzip, or cut it up.")
        return file


class ReadListForm(LabForm):
    """Which column is what, and what its numbers and words mean. Gives ``how``."""

    letters = forms.ChoiceField(
        label="Letters",
        choices=[("", "as the file says"), ("cp1252", "Windows-1252"), ("utf-16", "UTF-16")],
        required=False,
        help_text="Names that are no proper UTF-8 are kept as they are and shown in escapes.",
    )
    separator = forms.ChoiceField(
        label="Folders are set apart by", choices=[("/", "/"), ("\\", "\\")], widget=forms.RadioSelect
    )
    happened = HappenedField(label="Found", help_text="When the list was made.")

    def __init__(
        self, *args: Any, read: Read, source: Source, remembered: Mapping[str, int] | None, earlier: Mapping[str, Any],
        **kwargs: Any,
    ) -> None:  # fmt: skip
        super().__init__(*args, **kwargs)
        self.read, self.source, self.earlier = read, source, dict(earlier)
        self.rows = source.sample()
        found = dict(remembered) if remembered is not None else guess(source.headers, COLUMNS)
        self._add_columns(found)
        self.fields["letters"].initial = self.earlier.get("letters", "")
        self.fields["separator"].initial = self.earlier.get("separator") or self._separator(found)
        if self._chosen("extents", found) is not None and read.item.sectors:
            self._add_extents()
        self._add_words(self._chosen("check", found))
        columns = [one.key for one in COLUMNS]
        self.order_fields([*columns, *[f for f in self.fields if f not in (*columns, "happened")], "happened"])

    def _add_columns(self, found: Mapping[str, int]) -> None:
        columns = [(str(at), header) for at, header in enumerate(self.source.shown_headers)]
        for one in COLUMNS:
            choices = columns if one.required else [("", "in no column"), *columns]
            self.fields[one.key] = forms.ChoiceField(
                label=one.label, choices=choices, required=one.required, initial=str(found.get(one.key, ""))
            )
        self.fields["extents"].help_text = "Pairs of numbers, such as 2048+16; 4096+8. " + (
            "" if self.read.item.sectors else "Nobody has noted how many sectors it has: extents are left aside."
        )

    def _chosen(self, key: str, found: Mapping[str, int]) -> int | None:
        said = self.data.get(key, "") if self.is_bound else str(found.get(key, ""))
        return int(said) if said.isdigit() and int(said) < len(self.source.headers) else None

    def _separator(self, found: Mapping[str, int]) -> str:
        paths = [row[found["path"]] for row in self.rows[:200]] if "path" in found else []
        return "\\" if any("\\" in path for path in paths) and not any("/" in path for path in paths) else "/"

    def _add_extents(self) -> None:
        radio: dict[str, Any] = {"widget": forms.RadioSelect}
        self.fields["extent"] = forms.ChoiceField(
            label="The second number of an extent is",
            choices=[("sectors", "the length"), ("last", "the last one"), ("end", "the one behind the last")],
            initial=self.earlier.get("extent", "sectors"),
            **radio,
        )
        self.fields["unit"] = forms.ChoiceField(
            label="Counted in",
            choices=[("sectors", "sectors"), ("bytes", f"bytes ({self.read.sector_bytes} a sector)")],
            initial=self.earlier.get("unit", "sectors"),
            **radio,
        )
        parts = [(str(part["first_lba"]), f"the beginning of partition {name_of(part)}") for part in self.read.parts]
        self.fields["base"] = forms.ChoiceField(
            label="Counted from", choices=[("0", "the beginning of the medium"), *parts], initial="0"
        )

    def _add_words(self, at: int | None) -> None:
        """A field for each different word of the check in the first rows."""
        words = words_in([row[at] for row in self.rows]) if at is not None else []
        self.words = words[:MOST_WORDS]
        known = MEANS | dict(self.earlier.get("checks", {}))
        for number, word in enumerate(self.words):
            self.fields[f"{PREFIX}-{number}"] = forms.TypedChoiceField(
                label=f"“{shown(word.encode('utf-8', 'surrogatepass'), 40)}” means" if word else "an empty cell means",
                choices=[(str(code), words) for code, words in CHECK_WORDS.items()],
                coerce=int,
                initial=str(known.get(word, UNKNOWN)),
            )

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or {}
        chosen = [said[one.key] for one in COLUMNS if said.get(one.key)]
        if len(set(chosen)) < len(chosen):
            self.add_error(None, "One column was chosen for two things. Choose another for one of them.")
        return said

    def mapping(self) -> dict[str, int]:
        """Which column is which field."""
        return {one.key: int(self.cleaned_data[one.key]) for one in COLUMNS if self.cleaned_data.get(one.key)}

    def how(self) -> dict[str, Any]:
        """How the list is read, as it is kept."""
        said = self.cleaned_data
        how: dict[str, Any] = {"columns": self.mapping(), "sector_bytes": self.read.sector_bytes}
        how |= {"letters": said["letters"], "separator": said["separator"]}
        how |= {name: said[name] for name in ("unit", "extent") if name in said}
        how["base"] = int(said.get("base") or 0)
        how["checks"] = {word: said[f"{PREFIX}-{number}"] for number, word in enumerate(self.words)}
        return how


class SiftForm(forms.Form):
    """What is sought in a list."""

    folder = forms.IntegerField(required=False, min_value=0, widget=forms.HiddenInput)
    q = LineField(
        label="Path like", required=False, max_length=100, widget=forms.TextInput(attrs={"placeholder": "*.jpg"})
    )
    kind = forms.ChoiceField(
        label="Kind", required=False, choices=[("", "every kind"), *[(kind, kind) for kind in KINDS]]
    )
    state = forms.ChoiceField(
        label="State", required=False, choices=[("", "every state"), *[(s, WORDS[s]) for s in (*STATES[1:], STATES[0])]]
    )


class Places(forms.Field):
    """Whole numbers, as many as there are ticks."""

    widget = forms.MultipleHiddenInput

    def clean(self, value: Any) -> list[int]:
        said: Sequence[str] = value or []
        if not all(one.isascii() and one.isdigit() and len(one) < 12 for one in said):
            raise ValidationError("One of these is no number of a file. Reload the page.")
        return [int(one) for one in said]


class TickForm(LabForm):
    folder = Places(required=False)
    row = Places(required=False)
    taken = forms.ChoiceField(choices=[("yes", "yes"), ("no", "no")])
    back = forms.CharField(required=False, max_length=1000)

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or {}
        if not self.errors and not said["folder"] and not said["row"]:
            raise ValidationError("Tick a folder or a file first.")
        return said


class TieForm(LabForm):
    """Which files a wanted line asks for."""

    wanted = forms.ChoiceField(label="Wanted", error_messages={"required": "Choose the line of the wanted list."})
    by = forms.ChoiceField(label="Its files are", widget=forms.RadioSelect)
    pattern = LineField(
        label="Path like", max_length=200, required=False, help_text="*.jpg; Letters/*.odt; or words of the path."
    )
    happened = HappenedField()

    def __init__(self, *args: Any, item: Item, folder: int, folder_name: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.folder, self.folder_name = folder, folder_name or "the whole list"
        self.areas = {
            f"area-{area.pk}": area
            for area in ReadingArea.objects.filter(item=item, dropped=None, wanted__isnull=False)
        }
        self.lines = {str(line.pk): line for line in item.case.wanted.all()}
        self.fields["wanted"].choices = [  # type: ignore[attr-defined] # a choice field
            (pk, f"{line.number}. {line.what}") for pk, line in self.lines.items()
        ]
        here = f"all in {self.folder_name}" if folder else "all of the list"
        areas = [(key, f"what lies where {area.name} lies") for key, area in self.areas.items()]
        self.fields["by"].choices = [  # type: ignore[attr-defined] # a choice field
            ("folder", here),
            ("pattern", "those with a path like the one below"),
            *areas,
        ]

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or {}
        if said.get("by") == "pattern" and not said.get("pattern"):
            self.add_error("pattern", "Say what the path is like.")
        return said

    def tie(self) -> dict[str, Any]:
        """What ``tie_wanted`` takes."""
        said = self.cleaned_data
        about: dict[str, Any] = {"wanted": self.lines[said["wanted"]], "happened": said["happened"]}
        if said["by"] == "folder":
            return about | {"folder": self.folder, "name": self.folder_name[:300]}
        if said["by"] == "pattern":
            return about | {"pattern": said["pattern"], "name": said["pattern"]}
        area = self.areas[said["by"]]
        return about | {"area": area, "name": area.name}


class SampleForm(LabForm):
    outcome = forms.ChoiceField(
        label="It",
        choices=FileSample.Outcome.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Say what came of it."},
    )
    words = LineField(label="In words", required=False, help_text="With which program, and what was seen.")
    happened = HappenedField()


def earlier_how(item: Item, source: Source) -> dict[str, Any]:
    """How the last list with these columns was read, whosever it was; empty when there was none."""
    kept = FileList.objects.filter(how__headers=source.headers).order_by("-pk").values_list("how", flat=True).first()
    return dict(kept) if kept else {}
