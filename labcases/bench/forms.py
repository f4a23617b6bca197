"""The forms of the bench."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms
from django.urls import reverse
from django.utils.html import format_html

from labcases.bench.measured import all_measured
from labcases.bench.models import FaultClass, Prospects, Result, Sound, Step, WantedResult
from labcases.cases.models import Item
from labcases.core.forms import CountField, HappenedField, LabForm, LineField, ProseField
from labcases.custody.models import Photo
from labcases.stock.rules import PartKind

HOURS: dict[str, Any] = {"required": False, "min_value": 0, "max_value": 9999, "decimal_places": 2}


class HappenedForm(LabForm):
    """A verb that needs nothing but its moment."""

    happened = HappenedField()


class BecauseForm(HappenedForm):
    because = ProseField(label="Why", rows=2, max_length=2000)
    field_order = ["because", "happened"]


class PhotosField(forms.ModelMultipleChoiceField):
    """Photos to choose among, each seen small."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(queryset=Photo.objects.none(), widget=forms.CheckboxSelectMultiple, **kwargs)

    def label_from_instance(self, obj: Any) -> str:
        src = reverse("custody:photo-thumb", args=[obj.pk])
        return format_html('<img class="pick-shot" src="{}" alt="" loading="lazy"> {}', src, obj.words or obj.alt)


class ExaminationForm(LabForm):
    faults = forms.MultipleChoiceField(
        label="Faults",
        choices=FaultClass.choices,
        widget=forms.CheckboxSelectMultiple,
        help_text="There can be several.",
    )
    found = ProseField(label="Found", rows=4, help_text="What was seen.")
    photos = PhotosField(
        label="Shown by", required=False, help_text="Which fault each one shows can be said once this is recorded."
    )
    readings = ProseField(
        label="Readings",
        rows=2,
        required=False,
        help_text="One a line with its unit, for example: 5 V to ground: 1.2 kΩ",
    )
    sounds = forms.MultipleChoiceField(
        label="Sounds", choices=Sound.choices, widget=forms.CheckboxSelectMultiple, required=False
    )
    inside = forms.BooleanField(label="opened and inspected inside, in clean air", required=False)
    prospects = forms.ChoiceField(label="Prospects", choices=Prospects.choices, widget=forms.RadioSelect)
    would_change = ProseField(label="What would change them", rows=2, required=False)
    needs_part = LineField(
        label="Part needed", max_length=100, required=False, help_text="For example: head stack. Empty when none is."
    )
    parts = forms.MultipleChoiceField(
        label="From the stockroom",
        choices=[(kind.value, kind.value) for kind in PartKind],
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text="What the stockroom has not is put on what is to be bought.",
    )
    hours_people = forms.DecimalField(label="Hours of people", **HOURS)
    hours_machine = forms.DecimalField(label="Hours of machines", **HOURS)
    happened = HappenedField()

    def __init__(self, *args: Any, item: Item, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not item.case.may_open:
            self.fields["inside"].help_text = "The customer has not allowed opening it."
        if not item.spinning:
            del self.fields["sounds"]
        self.fields["photos"].queryset = Photo.objects.standing().filter(thing=item.thing)  # type: ignore[attr-defined]

    def clean_readings(self) -> list[list[str]]:
        try:
            return [list(reading) for reading in all_measured(self.cleaned_data["readings"])]
        except ValueError as wrong:
            raise forms.ValidationError(str(wrong)) from None

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or self.cleaned_data
        if said.get("parts") and not said.get("needs_part"):
            said["needs_part"] = ", ".join(said["parts"])[:100]
        return said


class StepForm(LabForm):
    what = ProseField(label="What was done", rows=3)
    method = LineField(
        label="Method", required=False, max_length=200, help_text="Programs and tools with their versions."
    )
    copied = forms.BooleanField(label="this made the clone, as far as it goes", required=False)
    change = ProseField(
        label="Unavoidable change",
        rows=2,
        required=False,
        help_text="A change to the patient itself, and why it could not be avoided. Its user area is never written.",
    )
    wrote = forms.ChoiceField(
        label="Written on it",
        required=False,
        choices=[("", "nothing"), *[choice for choice in Step.Wrote.choices if choice[0]]],
        widget=forms.RadioSelect,
        initial="",
    )
    happened = HappenedField()


class ResultForm(LabForm):
    """Numbers of what came of it, and an answer to each line of the wanted list (fields ``wanted-<key>``)."""

    sectors_read = CountField(label="Sectors read", required=False)
    files = CountField(label="Files recovered", required=False)  # type: ignore[assignment] # a field here, not yet the uploads
    bytes = CountField(label="Bytes recovered", required=False)
    compared = forms.ChoiceField(
        label="Compared", choices=Result.Compared.choices, widget=forms.RadioSelect, initial="not"
    )
    samples = ProseField(
        label="Samples opened", rows=2, required=False, help_text="Which of each wanted kind, and by whom."
    )
    not_recovered = ProseField(label="Not recovered, and why", rows=2, required=False)
    malware_check = LineField(label="Check for malware", required=False, max_length=200)
    happened = HappenedField()

    def __init__(self, *args: Any, item: Item, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.item = item
        self.wanted = list(item.case.wanted.all())
        for line in self.wanted:
            self.fields[f"wanted-{line.pk}"] = forms.ChoiceField(
                label=line.what, choices=WantedResult.State.choices, widget=forms.RadioSelect, initial="unknown"
            )
            self.fields[f"words-{line.pk}"] = LineField(label=f"{line.what}: in words", required=False)
        self.order_fields(["sectors_read", "files", "bytes", *self._wanted_names()])

    def _wanted_names(self) -> Iterable[str]:
        return [name for line in self.wanted for name in (f"wanted-{line.pk}", f"words-{line.pk}")]

    def clean_sectors_read(self) -> int | None:
        read, there = self.cleaned_data["sectors_read"], self.item.sectors
        if read is not None and there is not None and read > there:
            raise forms.ValidationError(f"The patient has {there:,} sectors: no more can have been read.")
        return read

    def numbers(self) -> dict[str, Any]:
        """The fields of Result."""
        names = ("sectors_read", "files", "bytes", "compared", "samples", "not_recovered", "malware_check")
        return {name: self.cleaned_data[name] for name in names} | {"sectors_total": self.item.sectors}

    def answers(self) -> dict[int, tuple[str, str]]:
        """State and words of each wanted line, by its key."""
        said = self.cleaned_data
        return {line.pk: (said[f"wanted-{line.pk}"], said[f"words-{line.pk}"]) for line in self.wanted}
