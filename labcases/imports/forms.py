"""The forms of an import: the file, its columns, taking it in, undoing it, and what the list of rows is narrowed by."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from labcases.core.forms import CountField, HappenedField, LabForm, ProseField
from labcases.core.importing import Fate, Field
from labcases.paper.labels import SIZES

MOST_BYTES = 256 << 20
MOST_LABELS = 1_000  # in one file


class FileForm(LabForm):
    """The table that comes in."""

    file = forms.FileField(
        label="Table",
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt,.xlsx"}),
        help_text="A CSV or XLSX file with headers in one of its first rows.",
        error_messages={"required": "Choose the file.", "empty": "The file is empty."},
    )
    unhashed = frozenset({"file"})

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise forms.ValidationError(f"The file is larger than {MOST_BYTES >> 20} MB. Cut it into several.")
        return file


class ColumnsForm(LabForm):
    """Which column is which field."""

    def __init__(self, *args: Any, fields: Sequence[Field], columns: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for one in fields:
            choices = [("", "in no column"), *columns]
            label = f"{one.label} (needed)" if one.required else one.label
            self.fields[one.key] = forms.ChoiceField(
                label=label, choices=choices, required=one.required, help_text=one.help
            )
        self.known = list(fields)

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or {}
        taken: dict[str, str] = {}
        for one in self.known:
            column = said.get(one.key)
            if column and column in taken:
                self.add_error(one.key, f"This column is {taken[column]} already.")
            elif column:
                taken[column] = one.label
        if not taken and not self.errors:
            self.add_error(None, "Choose at least one column.")
        return said

    def mapping(self) -> dict[str, int]:
        return {one.key: int(self.cleaned_data[one.key]) for one in self.known if self.cleaned_data.get(one.key)}


class ReadAgainForm(forms.Form):
    """Another sheet, or another row with the headers."""

    sheet = forms.ChoiceField(label="Sheet", required=False)
    header_row = forms.IntegerField(label="Headers in row", required=False, min_value=1, max_value=30)

    def __init__(self, *args: Any, sheets: Sequence[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if sheets:
            self.fields["sheet"].choices = [(one, one) for one in sheets]  # type: ignore[attr-defined]
        else:
            del self.fields["sheet"]


class TakeInForm(LabForm):
    """All rows or none, or without those that are refused."""

    refused = forms.ChoiceField(
        label="Refused rows",
        choices=[("none", "all rows or none"), ("skip", "leave the refused ones out")],
        widget=forms.RadioSelect,
        initial="none",
    )
    happened = HappenedField(label="Came into the lab")


class UndoForm(LabForm):
    """Why it is taken back."""

    because = ProseField(label="Why", rows=2, max_length=2000)


class LabelsForm(LabForm):
    """Labels for what came in: all of it, or a stretch when there are very many."""

    size = forms.ChoiceField(label="Printed on", choices=[(size.key, size.words) for size in SIZES.values()])
    first = CountField(
        label="First free place", initial=1, min_value=1, required=False, help_text="On a sheet that was begun."
    )

    def __init__(self, *args: Any, count: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.count = count
        if count > MOST_LABELS:
            stretches = [
                (str(n), f"{n + 1:,} to {min(n + MOST_LABELS, count):,}") for n in range(0, count, MOST_LABELS)
            ]
            self.fields["stretch"] = forms.ChoiceField(label=f"Which of the {count:,}", choices=stretches)

    def chosen(self, things: Any) -> Any:
        begin = int(self.cleaned_data.get("stretch") or 0)
        return things[begin : begin + MOST_LABELS]

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or {}
        size = SIZES.get(said.get("size", ""))
        said["first"] = said.get("first") or 1
        if size and said["first"] > size.per_page:
            self.add_error("first", f"There are {size.per_page} places on {size.words}.")
        return said


class RowsFilter(forms.Form):
    fate = forms.ChoiceField(label="Rows", required=False, choices=[("", "every row"), *[(f, f) for f in Fate]])

    def narrow(self, rows: Any) -> Any:
        if not self.is_valid() or not self.cleaned_data["fate"]:
            return rows
        return rows.filter(fate=self.cleaned_data["fate"])
