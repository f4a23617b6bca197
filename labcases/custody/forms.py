"""Moving things: a thing and where it goes, both scanned or chosen."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import Exists, OuterRef

from labcases.core import codes
from labcases.core.forms import HappenedField, LabForm, LineField, ProseField
from labcases.custody import lines
from labcases.custody.models import Break, Thing
from labcases.lab.models import Place, Staff


class ThingFilter(forms.Form):
    """What a list of things is narrowed by."""

    q = LineField(label="Code or words", required=False)
    kind = forms.ChoiceField(label="Kind", required=False, choices=[("", "every kind"), *Thing.Kind.choices])
    place = forms.ModelChoiceField(
        label="Place", required=False, queryset=Place.objects.all(), empty_label="everywhere"
    )

    breaks = forms.ChoiceField(
        label="Line", required=False,
        choices=[
            ("", "every line"), ("open", "with open breaks"), *((grade, f"worst: {grade}") for grade in lines.GRADES),
            ("answered", "with answered breaks"), ("whole", "without a break"),
        ],
    )  # fmt: skip

    def narrow(self, things: Any) -> Any:
        """Things that fit; everything when the filter itself is wrong."""
        if not self.is_valid():
            return things
        said = self.cleaned_data
        if said["q"]:
            folded = codes.fold(said["q"])
            things = (
                things.filter(code__startswith=folded)
                if folded[:1].isdigit()
                else things.filter(words__icontains=said["q"])
            )
        if said["kind"]:
            things = things.filter(kind=said["kind"])
        things = things.filter(place=said["place"]) if said["place"] else things
        return _by_line(things, said["breaks"])


def _by_line(things: Any, how: str) -> Any:
    """Things whose lines stand so."""
    if how == "open":
        return things.filter(breaks_open__gt=0)
    if how in lines.GRADES:
        return things.filter(breaks_open__gt=0, worst_break=how)
    some = Exists(Break.objects.filter(thing=OuterRef("pk")))
    if how == "answered":
        return things.filter(Exists(Break.objects.filter(thing=OuterRef("pk")).exclude(answered=None)))
    return things.exclude(some) if how == "whole" else things


class CodesField(LineField):
    """One or several codes of ours, scanned one after the other."""

    widget = forms.Textarea(attrs={"rows": 2, "class": "code", "data-scans": ""})

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=4000, **kwargs)

    def clean(self, value: Any) -> list[Thing]:
        text = super().clean(value)
        found, wrong = [], []
        for typed in text.replace(",", " ").split():
            try:
                thing = Thing.objects.with_whereabouts().filter(code=codes.parse(typed).folded).first()
            except codes.MistypedCode as mistake:
                wrong.append(str(mistake))
                continue
            if thing:
                found.append(thing)
            else:
                wrong.append(f"Nothing carries the code {typed}.")
        if wrong:
            raise forms.ValidationError(wrong)
        return list({thing.pk: thing for thing in found}.values())


class MoveForm(LabForm):
    """Put things in a place, or hand them to a colleague."""

    things = CodesField(label="Things", help_text="Scan one or several codes, or type them with blanks between.")
    place = forms.ModelChoiceField(
        label="Put in", queryset=Place.objects.filter(in_use=True), required=False, empty_label="–"
    )
    staff = forms.ModelChoiceField(
        label="or hand to", queryset=Staff.objects.filter(is_active=True), required=False, empty_label="–"
    )
    because = ProseField(label="Why", required=False, rows=1, max_length=500)
    happened = HappenedField()

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if not self.errors and bool(said.get("place")) == bool(said.get("staff")):
            raise forms.ValidationError("Say where they go: one place, or one colleague.")
        return said
