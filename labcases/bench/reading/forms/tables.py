"""A table of spans: which column is what, what its words mean. Everything slow happens in ``clean``, before a press."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from labcases.bench.cells import Cells
from labcases.bench.reading.actions import prepare, size_of
from labcases.bench.reading.models import CoverageUpload
from labcases.bench.reading.queries import misleading
from labcases.bench.spans import BadSpan
from labcases.bench.spantable import MEANS, How, Said, fold, read_table, words_in
from labcases.cases.models import Item
from labcases.core.forms import CountField, HappenedField, LabForm, LineField
from labcases.core.importing import Field, guess, signature

MOST_BYTES = 96 << 20
MOST_WORDS = 40
PREFIX = "word"

STATES = [
    ("read", "read"),
    ("doubtful", "doubtful"),
    ("unreadable", "unreadable"),
    ("skipped", "skipped"),
    ("left_out", "left out for now"),
    ("unreached", "unreached"),
]
FIRST = Field(
    "first", "Beginning", ("start", "first sector", "lba", "position", "offset", "from", "begin", "pos"), True
)
SECOND = Field(
    "second",
    "Length or end",
    (
        "sectors",
        "length",
        "len",
        "size",
        "bytes",
        "count",
        "end",
        "last",
        "last sector",
        "to",
        "finish",
        "blocks",
        "number",
    ),
    True,
)
STATE = Field("state", "State", ("status", "result", "condition", "outcome"))
DELAY = Field("delay", "Delay", ("milliseconds", "ms", "time", "latency", "delay ms"))
HEAD = Field("head", "Head", ("heads", "hd", "head number"), True)
COLUMNS: dict[str, tuple[Field, ...]] = {
    "coverage": (FIRST, SECOND, STATE, DELAY),
    "heads": (FIRST, SECOND, HEAD),
    "area": (FIRST, SECOND),
}
ENDS = ("end", "to", "finish")
LASTS = ("last", "last sector")


class TableFileForm(LabForm):
    """The table that is uploaded; what it says is asked next."""

    file = forms.FileField(
        label="Table",
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt,.log,.xlsx"}),
        help_text="Any table with a line a span: CSV, columns set apart by blanks, or XLSX.",
        error_messages={"required": "Choose the file.", "empty": "The file is empty."},
    )
    unhashed = frozenset({"file"})

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise forms.ValidationError(f"The file is larger than {MOST_BYTES >> 20} MiB. Cut it into several.")
        return file


class SpansForm(LabForm):
    """Base of the three tables of spans: coverage, heads by sector, an area. Gives ``said`` in its cleaned data."""

    purpose = "area"

    def __init__(
        self, *args: Any, item: Item, cells: Cells, remembered: Mapping[str, int] | None, how: Mapping[str, Any],
        **kwargs: Any,
    ) -> None:  # fmt: skip
        super().__init__(*args, **kwargs)
        self.item, self.cells, self.earlier = item, cells, dict(how)
        self.known = COLUMNS[self.purpose]
        found = dict(remembered) if remembered is not None else guess(cells.headers, self.known)
        self._add_columns(found)
        self._add_numbers(found)
        if self.purpose == "coverage":
            self._add_words(found)
        self.order_fields([*[f for f in self.fields if f != "happened"], "happened"])

    def _add_columns(self, found: Mapping[str, int]) -> None:
        columns = [(str(at), header) for at, header in enumerate(self.cells.headers)]
        for one in self.known:
            choices = columns if one.required else [("", "in no column"), *columns]
            self.fields[one.key] = forms.ChoiceField(
                label=one.label, choices=choices, required=one.required, initial=str(found.get(one.key, ""))
            )

    def _add_numbers(self, found: Mapping[str, int]) -> None:
        header = fold(self.cells.headers[found["second"]]) if "second" in found else ""
        extent = "end" if header in ENDS else "last" if header in LASTS else "sectors"
        radio: dict[str, Any] = {"widget": forms.RadioSelect}
        self.fields["extent"] = forms.ChoiceField(
            label="The second number is",
            choices=[("sectors", "the length"), ("last", "the last one"), ("end", "the one behind the last")],
            initial=self.earlier.get("extent", extent),
            **radio,
        )
        self.fields["unit"] = forms.ChoiceField(
            label="Counted in",
            choices=[("sectors", "sectors"), ("bytes", f"bytes ({self.item.sector_bytes or 512} a sector)")],
            initial=self.earlier.get("unit", self._unit(found)),
            **radio,
        )
        self.fields["hexadecimal"] = forms.BooleanField(
            label="numbers are hexadecimal without 0x in front",
            required=False,
            initial=self.earlier.get("hexadecimal", False),
        )

    def _unit(self, found: Mapping[str, int]) -> str:
        headers = " ".join(fold(self.cells.headers[at]) for at in found.values() if at < len(self.cells.headers))
        return "bytes" if "byte" in headers or "offset" in headers else "sectors"

    def _add_words(self, found: Mapping[str, int]) -> None:
        """A field for each different word in the column of states, and one for a table without such a column."""
        chosen = self.data.get("state") if self.is_bound else str(found.get("state", ""))
        at = int(chosen) if chosen and chosen.isdigit() and int(chosen) < len(self.cells.columns) else None
        self.words = words_in(self.cells.columns[at])[: MOST_WORDS + 1] if at is not None else []
        means = MEANS | dict(self.earlier.get("states", {}))
        for number, word in enumerate(self.words[:MOST_WORDS]):
            self.fields[f"{PREFIX}-{number}"] = forms.ChoiceField(
                label=f"“{word}” means" if word else "an empty cell means",
                choices=[("", "choose"), *STATES, ("nothing", "nothing: leave the row aside")],
                initial=(means[word] or "nothing") if word in means else "",
            )
        if at is None:
            self.fields["everything"] = forms.ChoiceField(
                label="Every row is", choices=STATES, initial=self.earlier.get("everything", "read")
            )

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or {}
        if self.errors:
            return said
        if self.purpose == "coverage" and len(self.words) > MOST_WORDS:
            self.add_error("state", f"This column has more than {MOST_WORDS} different words: it is no state.")
            return said
        try:
            said["said"] = self._read(said)
        except BadSpan as wrong:
            self.add_error(None, f"{wrong} Nothing was kept.")
        return said

    def _read(self, said: Mapping[str, Any]) -> Said:
        columns = {"first": self._column("first"), said["extent"]: self._column("second")}
        for key in ("state", "delay"):
            if said.get(key):
                columns[key] = self._column(key)
        return read_table(
            columns,
            How(**self.how()),
            total=size_of(self.item),
            sector_bytes=self.item.sector_bytes or 512,
            rows=self.cells.rows,
        )

    def _column(self, key: str) -> Any:
        return self.cells.columns[int(self.cleaned_data[key])]

    def how(self) -> dict[str, Any]:
        """What the columns and words mean, as ``How`` takes it."""
        said = self.cleaned_data
        how = {name: said[name] for name in ("unit", "extent", "hexadecimal")}
        if self.purpose == "coverage":
            words = enumerate(self.words[:MOST_WORDS])
            told = {word: said[f"{PREFIX}-{number}"] for number, word in words if said.get(f"{PREFIX}-{number}")}
            how["states"] = {word: "" if state == "nothing" else state for word, state in told.items()}
            how["everything"] = said.get("everything") or "read"
        return how

    def mapping(self) -> dict[str, int]:
        """Which column is which field, to be remembered."""
        return {one.key: int(self.cleaned_data[one.key]) for one in self.known if self.cleaned_data.get(one.key)}

    @property
    def layout(self) -> str:
        return signature(self.cells.headers)


class CoverageTableForm(SpansForm):
    """A table of what was read."""

    purpose = "coverage"
    pass_number = CountField(label="Pass", min_value=1, max_value=999, initial=1)
    happened = HappenedField(label="Read", help_text="When it was read: a newer pass lies over an older one.")

    def __init__(self, *args: Any, raw: bytes, name: str, **kwargs: Any) -> None:
        self.raw, self.name = raw, name
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        if "said" in said and not self.errors:
            how = self.how() | {"delays": bool(said.get("delay"))}
            said["ready"] = prepare(
                said["said"], data=self.raw, name=self.name, source=CoverageUpload.Source.TABLE,
                signature=self.layout, how=how,
            )  # fmt: skip
        return said


class HeadTableForm(SpansForm):
    """A table of which head reads which sectors."""

    purpose = "heads"
    low_is_outer = forms.BooleanField(
        label="low sector numbers lie on outer tracks",
        required=False,
        initial=True,
        help_text="Not so on shingled and some newer disks: such a table misleads there.",
    )
    happened = HappenedField()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["low_is_outer"].initial = not misleading(self.item)

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        if "said" in said and not self.errors:
            said["heads"] = self._heads(said["said"])
        return said

    def _heads(self, said: Said) -> Sequence[int]:
        """The head of each row, which must read no sector that another head reads."""
        import numpy as np

        numbers = np.zeros(said.firsts.size, np.int64)
        for at, text in enumerate(self._column("head").to_pylist()):
            word = (text or "").strip().casefold().removeprefix("head").strip()
            if not word.isascii() or not word.isdigit() or int(word) > 99:
                self.add_error(None, f"Row {self.cells.rows[at]}: “{(text or '')[:20]}” is no number of a head.")
                break
            numbers[at] = int(word)
        order = np.argsort(said.firsts, kind="stable")
        ends = said.firsts[order] + said.sectors[order]
        shared = np.flatnonzero((said.firsts[order][1:] < ends[:-1]) & (numbers[order][1:] != numbers[order][:-1]))
        if shared.size and not self.errors:
            one, other = (int(order[shared[0] + step]) for step in (0, 1))
            self.add_error(
                None,
                f"Rows {self.cells.rows[one]} and {self.cells.rows[other]} give sector {int(said.firsts[other]):,} to "
                f"two heads, {numbers[one]} and {numbers[other]}. Nothing was kept.",
            )
        return numbers  # type: ignore[return-value] # an array


class AreaTableForm(SpansForm):
    """A table of where something lies."""

    name = LineField(label="Folder, file or structure", max_length=300)
    happened = HappenedField()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["wanted"] = wanted_field(self.item)
        self.order_fields(["wanted", "name", *[f for f in self.fields if f not in ("wanted", "name")]])


def wanted_field(item: Item) -> forms.ChoiceField:
    """The lines of the wanted list, and the structures of the file system."""
    lines = [(str(line.pk), f"{line.number}. {line.what}") for line in item.case.wanted.all()]
    return forms.ChoiceField(label="Belongs to", choices=[*lines, ("structures", "structures of the file system")])
