"""The form of a dump."""

from __future__ import annotations

from typing import Any

from django import forms

from labcases.bench.dumps.actions import MOST_BYTES
from labcases.bench.models import Dump
from labcases.core.forms import HappenedField, LabForm, LineField, ProseField


class DumpField(forms.FileField):
    """A file of bounded size, read whole; empty when none was given."""

    def clean(self, data: Any, initial: Any = None) -> bytes:
        upload = super().clean(data, initial)
        if not upload:
            return b""
        if upload.size > MOST_BYTES:
            raise forms.ValidationError(f"This file is larger than {MOST_BYTES // 1024**2} MiB. Split it.")
        return bytes(upload.read())


class DumpForm(LabForm):
    kind = forms.ChoiceField(label="Kind", choices=Dump.Kind.choices, widget=forms.RadioSelect)
    name = LineField(label="Which", required=False, max_length=100, help_text="Number of the module, track or chip.")
    outcome = forms.ChoiceField(label="Outcome", choices=Dump.Outcome.choices, widget=forms.RadioSelect)
    first = DumpField(label="File", required=False)
    again = DumpField(label="Second reading", required=False, help_text="The same, read once more: it is compared.")
    note = ProseField(label="Note", required=False, rows=2)
    happened = HappenedField()

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or self.cleaned_data
        read, file = said.get("outcome") in Dump.WITH_FILE, bool(said.get("first"))
        if "outcome" in said and "first" in said and read != file:
            text = "Give the file that was read." if read else "What could not be read has no file. Take it out."
            self.add_error("first", text)
        if said.get("again") and not file and "first" not in self.errors:
            self.add_error("again", "Give the first reading too.")
        return said
