"""The forms of identity: the page that a medium gives, answers to what differs, a chip that was taken off."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from labcases.cases.readings.actions import NotReadable, Read, as_shown, read_page
from labcases.cases.readings.comparing import ANSWERS, NAMES, Line
from labcases.core.forms import CountField, HappenedField, LabForm, LineField, ProseField

LONGEST_PAGE = 256 * 1024
CODE = {"class": "code", "autocomplete": "off", "spellcheck": "false"}


class PageField(forms.CharField):
    """A hex listing as it was printed: its blanks and columns stay."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.Textarea(attrs={**CODE, "rows": 6}))
        super().__init__(required=False, strip=False, max_length=LONGEST_PAGE, **kwargs)
        self.error_messages["max_length"] = "This is too long for one page. Paste the listing of one page only."


class IdentifyForm(LabForm):
    """Paste a page, drop its file, or type what the machine shows."""

    page = PageField(label="Page", help_text="The identify page as a hex listing, in any common layout.")
    file = forms.FileField(label="or its file", required=False, allow_empty_file=True)
    model = LineField(label="Model", required=False, max_length=100, widget=forms.TextInput(attrs=CODE))
    serial = LineField(label="Serial", required=False, max_length=100, widget=forms.TextInput(attrs=CODE))
    firmware = LineField(label="Firmware", required=False, max_length=60, widget=forms.TextInput(attrs=CODE))
    sectors = CountField(label="Sectors", required=False, min_value=1)
    sector_bytes = CountField(label="Bytes in a sector", required=False, min_value=1, max_value=65_536)
    locked = forms.BooleanField(label="it says that it is locked", required=False)
    happened = HappenedField()
    read: Read

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or self.cleaned_data
        if self.errors:
            return said
        given = self._given(said)
        typed = {name: said[name] for name in NAMES if said.get(name)}
        if given and (typed or said.get("locked")):
            self.add_error(None, "Give its page or type what the machine shows, not both: only one can be on record.")
        elif given:
            self._read(given)
        elif typed or said.get("locked"):
            self.read = as_shown(typed, locked=said["locked"])
        else:
            self.add_error("page", "Paste its page, drop the file, or type what the machine shows.")
        return said

    def _given(self, said: dict[str, Any]) -> bytes | str:
        if upload := said.get("file"):
            if upload.size > LONGEST_PAGE:
                self.add_error("file", "This file is too long to be one page: 256 KiB at most.")
                return ""
            return bytes(upload.read()) or " "
        return said.get("page", "") if said.get("page", "").strip() else ""

    def _read(self, given: bytes | str) -> None:
        try:
            self.read = read_page(given)
        except NotReadable as refused:
            self.add_error("file" if isinstance(given, bytes) else "page", refused.sentences())


class AnswerForm(LabForm):
    """A choice for each difference (fields ``answer-<attribute>``)."""

    because = ProseField(label="In words", rows=2, required=False, help_text="Where it is not plain.")
    happened = HappenedField()

    def __init__(self, *args: Any, lines: Sequence[Line], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lines = lines
        for line in lines:
            self.fields[f"answer-{line.name}"] = forms.ChoiceField(
                label=f"{line.label}: noted {line.noted_words}, it says {line.said_words}",
                choices=list(ANSWERS.items()),
                widget=forms.RadioSelect,
                error_messages={"required": f"Say what the other {line.label.lower()} means."},
            )
        self.order_fields([f"answer-{line.name}" for line in lines])

    def answers(self) -> dict[str, str]:
        return {line.name: self.cleaned_data[f"answer-{line.name}"] for line in self.lines}


class RemoveChipForm(LabForm):
    words = LineField(
        label="Which chip", max_length=100, help_text="Its place on the board, for example: U3, top side."
    )
    serial = LineField(label="Marking", required=False, max_length=100, widget=forms.TextInput(attrs=CODE))
    change = ProseField(
        label="Why it could not be avoided",
        rows=2,
        help_text="Taking a chip off changes the patient for good: on record with its reason.",
    )
    happened = HappenedField()
