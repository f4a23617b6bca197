"""The forms of the lab's own records."""

from __future__ import annotations

from typing import Any

from django import forms

from labcases.bench.records.models import Competence, LogLine
from labcases.bench.stations.forms import StaffField
from labcases.cases.models import Item
from labcases.core import codes
from labcases.core.forms import CountField, HappenedField, LabForm, LineField, ProseField

DAY: dict[str, Any] = {"required": False, "widget": forms.DateInput(attrs={"type": "date"})}


class LogForm(LabForm):
    what = forms.ChoiceField(label="What", choices=LogLine.What.choices, widget=forms.RadioSelect)
    particles = CountField(
        label="Particles", required=False, help_text="Of 0.5 µm and more, in a cubic metre. Class 5 allows 3,520."
    )
    next_due = forms.DateField(label="Due again", **DAY)
    note = ProseField(label="Note", rows=2, required=False)
    happened = HappenedField()

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or self.cleaned_data
        if said.get("what") == LogLine.What.COUNT and said.get("particles") is None:
            self.add_error("particles", "Say how many particles were counted.")
        return said


class CompetenceForm(LabForm):
    person = StaffField(label="Who", empty_label=None)
    work = forms.ChoiceField(label="Kind of work", choices=Competence.Work.choices, widget=forms.RadioSelect)
    shown_by = ProseField(label="Shown by", rows=2, help_text="Training, cases worked under somebody, examination.")
    look_again = forms.DateField(label="Look at it again", **DAY)
    happened = HappenedField(label="Since")


class MishapForm(LabForm):
    kind = forms.ChoiceField(
        label="How it came out", widget=forms.RadioSelect, initial="went wrong",
        choices=[("went wrong", "seen by the lab"), ("complaint", "somebody complained")],
    )  # fmt: skip
    what = ProseField(label="What went wrong", rows=3, help_text="Of a complaint: who said what, and how.")
    code = LineField(
        label="Item", required=False, max_length=40, widget=forms.TextInput(attrs={"class": "code"}),
        help_text="Its code, if it was done to one.",
    )  # fmt: skip
    why = ProseField(label="Why", rows=2, required=False)
    done = ProseField(label="What was done", rows=2, required=False)
    happened = HappenedField()
    item: Item | None = None

    def clean_code(self) -> str:
        typed: str = self.cleaned_data["code"]
        if typed:
            try:
                folded = codes.parse(typed).folded
            except codes.MistypedCode as mistake:
                raise forms.ValidationError(str(mistake)) from None
            self.item = Item.objects.with_context().filter(thing__code=folded).first()
            if self.item is None:
                raise forms.ValidationError("There is no item of this code.")
        return typed


class CloseForm(LabForm):
    why = ProseField(label="Why it happened", rows=2)
    done = ProseField(label="What was done", rows=2, help_text="So that it does not happen again.")
    happened = HappenedField()
