"""The verbs of a part, a medium, a label."""

from __future__ import annotations

from typing import Any

from django import forms

from labcases.cases.scans.forms import ScanField
from labcases.core.forms import CountField, HappenedField, LabForm, LineField, ProseField
from labcases.custody.forms import CodesField
from labcases.custody.models import Thing
from labcases.paper.labels import SIZES

MOST_LABELS = 500


class BecauseForm(LabForm):
    because = ProseField(label="Why", rows=2, max_length=2000)
    happened = HappenedField()


class ReleaseMediumForm(LabForm):
    """Whether anything was written: only what stayed unwritten is free at once."""

    written = forms.ChoiceField(
        label="Was anything written on it?",
        choices=[("yes", "yes, or not known"), ("no", "no, nothing")],
        widget=forms.RadioSelect,
        error_messages={"required": "Say whether anything was written on it."},
    )
    because = ProseField(label="Why", rows=2, max_length=2000, required=False)
    happened = HappenedField()


class ConsentForm(LabForm):
    """What lies on a customer's own medium, and what its owner signed."""

    content = ProseField(
        label="What lies on it", rows=2, max_length=2000, required=False, help_text="As the owner says, or as seen."
    )
    consent = ProseField(
        label="What they consent to", rows=2, max_length=2000, required=False, help_text="In the words of the paper."
    )
    consent_by = LineField(label="Signed by", max_length=200, required=False)
    consent_paper = LineField(
        label="Which paper", max_length=200, required=False, help_text="Its number, or where it lies."
    )
    scan = ScanField(required=False)
    happened = HappenedField(label="Signed at")

    def __init__(self, *args: Any, kept: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.kept = kept  # a scan is with the medium already

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("consent"):
            if not said.get("consent_by") and "consent_by" not in self.errors:
                self.add_error("consent_by", "Say who signed.")
            there = self.kept or said.get("consent_paper") or said.get("scan")
            if not there and not {"consent_paper", "scan"} & self.errors.keys():
                self.add_error("consent_paper", "Say which paper was signed, or add a scan of it.")
        return said


class AssignForm(LabForm):
    """One press: this part, or this medium. ``lifted`` is a manager's reason where a must differs."""

    chosen = LineField(label="What to assign", max_length=40, widget=forms.HiddenInput)
    kept_until = LineField(max_length=40, required=False, widget=forms.HiddenInput)
    lifted = ProseField(label="Why it may go all the same", rows=2, max_length=2000, required=False)
    answered = ProseField(
        label="How the preamplifier was checked, and what came out", rows=2, max_length=2000, required=False
    )


class LabelForm(LabForm):
    """Labels for things: which, and on what they are printed."""

    things = CodesField(label="Things", help_text="Scan one or several codes, or type them with blanks between.")
    size = forms.ChoiceField(label="Printed on", choices=[(size.key, size.words) for size in SIZES.values()])
    first = CountField(
        label="First free place", initial=1, min_value=1, required=False, help_text="On a sheet that was begun."
    )

    def clean_things(self) -> list[Thing]:
        things: list[Thing] = self.cleaned_data["things"]
        if len(things) > MOST_LABELS:
            raise forms.ValidationError(f"{len(things)} labels at once are too many: {MOST_LABELS} at most.")
        return things

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        size = SIZES.get(said.get("size", ""))
        said["first"] = said.get("first") or 1
        if size and said["first"] > size.per_page:
            self.add_error("first", f"There are {size.per_page} places on {size.words}.")
        return said
