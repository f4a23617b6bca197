"""What is said in a stocktake."""

from __future__ import annotations

from typing import Any

from django import forms

from labcases.core.forms import HappenedField, LabForm, LineField, ProseField
from labcases.lab.models import Place
from labcases.stock.takes.models import Stocktake, TakeLine


class BeginForm(LabForm):
    """Which places, and what for."""

    places = forms.ModelMultipleChoiceField(
        label="Places",
        queryset=Place.objects.filter(in_use=True),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one place."},
    )
    words = LineField(label="What for", max_length=100, required=False, help_text="Yearly stocktake, shelf was moved …")
    happened = HappenedField(label="Begun")


class CountForm(LabForm):
    """One code, and the place where it was read."""

    place = forms.ModelChoiceField(label="Counting in", queryset=Place.objects.none(), empty_label=None)
    read = LineField(
        label="Code",
        max_length=100,
        widget=forms.TextInput(attrs={"class": "code", "autocomplete": "off", "autofocus": True}),
        error_messages={"required": "Scan a label, or type its code."},
    )

    def __init__(self, *args: Any, take: Stocktake, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].queryset = take.places.all()  # type: ignore[attr-defined]


class AnswerForm(LabForm):
    """An answer to several lines at once."""

    lines = forms.ModelMultipleChoiceField(
        label="Lines", queryset=TakeLine.objects.none(), error_messages={"required": "Tick what you answer."}
    )
    how = forms.ChoiceField(label="Answer", choices=TakeLine.Answer.choices)
    because = LineField(label="Why", max_length=300, required=False)

    def __init__(self, *args: Any, take: Stocktake, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["lines"].queryset = take.lines.all()  # type: ignore[attr-defined]


class SignForm(LabForm):
    """What whoever signs it off says of it."""

    because = ProseField(label="Remarks", rows=2, max_length=2000, required=False)
    happened = HappenedField(label="Signed off")


class LineFilter(forms.Form):
    """What the lines of a stocktake are narrowed by."""

    outcome = forms.ChoiceField(
        label="Show",
        required=False,
        choices=[("", "everything"), ("differs", "what differs"), *TakeLine.Outcome.choices],
    )
    answer = forms.ChoiceField(
        label="Answer", required=False, choices=[("", "any"), ("none", "no answer yet"), *TakeLine.Answer.choices]
    )

    def narrow(self, lines: Any) -> Any:
        """Lines that fit; all of them when the filter itself is wrong."""
        if not self.is_valid():
            return lines
        outcome, answer = self.cleaned_data["outcome"], self.cleaned_data["answer"]
        if outcome == "differs":
            lines = lines.differing()
        elif outcome:
            lines = lines.filter(outcome=outcome)
        return lines.filter(answer="" if answer == "none" else answer) if answer else lines
