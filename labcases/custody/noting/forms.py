"""What is asked for each touch, and for a correction."""

from __future__ import annotations

import hashlib
import re
from typing import Any

from django import forms

from labcases.core import codes
from labcases.core.forms import HappenedField, LabForm, LineField, ProseField
from labcases.custody.models import Thing
from labcases.custody.noting import queries
from labcases.lab.models import Place

LONGEST_SEAL, MOST_SEALS = 60, 30
LARGEST_FILE = 64 * 2**20
DIGEST = re.compile(r"[0-9a-f]{64}")


class SealsField(LineField):
    """Numbers of seals with commas or blanks between them, each once."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("label", "Seal numbers")
        kwargs.setdefault("widget", forms.TextInput(attrs={"class": "code", "autocomplete": "off"}))
        super().__init__(max_length=1000, **kwargs)

    def clean(self, value: Any) -> list[str]:
        numbers = list(dict.fromkeys(re.split(r"[,;\s]+", super().clean(value).upper().strip(" ,;"))))
        if len(numbers) > MOST_SEALS or any(len(number) > LONGEST_SEAL for number in numbers):
            raise forms.ValidationError(
                f"Up to {MOST_SEALS} numbers of {LONGEST_SEAL} characters each, with commas between."
            )
        return [number for number in numbers if number]


class ThingField(LineField):
    """One thing, by its scanned or typed code."""

    def __init__(self, **kwargs: Any) -> None:
        widget = forms.TextInput(attrs={"class": "code", "autocomplete": "off", "data-scans": ""})
        super().__init__(widget=widget, max_length=60, **kwargs)

    def clean(self, value: Any) -> Thing | None:
        typed = super().clean(value)
        if not typed:
            return None
        try:
            read = codes.parse(typed)
        except codes.MistypedCode as mistake:
            raise forms.ValidationError(str(mistake)) from None
        found: Thing | None = Thing.objects.with_whereabouts().filter(code=read.folded).first()
        if found is None:
            raise forms.ValidationError(f"Nothing carries the code {read.printed}.")
        return found


class TouchForm(LabForm):
    """The base: it knows its thing; ``said`` is what its verb is called with."""

    happened = HappenedField()
    multipart = False

    def __init__(self, *args: Any, thing: Thing, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.thing = thing
        self.move_last("happened")

    def move_last(self, name: str) -> None:
        self.fields[name] = self.fields.pop(name)


def why(label: str = "Why", **about: Any) -> ProseField:
    return ProseField(label=label, rows=2, max_length=2000, **about)


def authority(**about: Any) -> LineField:
    about.setdefault("required", False)
    return LineField(
        label="On whose authority", help_text="Who allowed it, and how: the terms, a call, a letter.", **about
    )


def change() -> ProseField:
    words = "What it changed on the thing that could not be avoided, and why it could not."
    return ProseField(label="Unavoidable change", rows=2, max_length=2000, required=False, help_text=words)


def station(**about: Any) -> LineField:
    return LineField(label="Station", max_length=100, **about)


class SealForm(TouchForm):
    seals = SealsField(help_text="As printed on the seals, with commas between.")
    because = why(required=False)


class BreakSealForm(TouchForm):
    """Which seal, why. A number that nobody put on record is a break of the line, and the page says so before."""

    seals = SealsField(help_text="")
    because = why()
    authority = authority()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        on = self.thing.seals_on
        self.initial.setdefault("seals", ", ".join(on))
        self.fields["seals"].help_text = (
            f"On it by the record: {', '.join(on)}." if on else "The record knows of no seal on it."
        ) + " Any other number is shown as a break in its line, for a manager to answer."


class PowerForm(TouchForm):
    station = station()
    port = LineField(label="Port", max_length=60, required=False)
    because = why("What for", required=False)


class PowerEndForm(TouchForm):
    because = why("How it went", required=False)
    change = change()


class OpenedForm(TouchForm):
    because = why()
    station = LineField(label="Where", max_length=100, required=False, help_text="Which bench, and its class of air.")
    authority = authority()
    change = change()


class FitForm(TouchForm):
    part = ThingField(label="Part", help_text="Scan the part's label, or take one that is assigned to this case.")
    because = why()
    authority = authority()
    change = change()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        ready = queries.parts_assigned_beside(self.thing)
        if ready:
            self.initial.setdefault("part", str(ready[0]))
            self.fields["part"].help_text = "Assigned to this case: " + "; ".join(f"{p} {p.words}" for p in ready) + "."


class RemoveForm(TouchForm):
    part = ThingField(label="Part", help_text="Scan the part's label.")
    to = forms.ModelChoiceField(
        label="It goes to", queryset=Place.objects.filter(in_use=True), required=False, empty_label="beside the patient"
    )
    because = why()
    authority = authority()
    change = change()


class ReadForm(TouchForm):
    because = why("What was read")
    station = station(required=False)
    port = LineField(label="Port", max_length=60, required=False)
    change = change()


class WrittenForm(TouchForm):
    """Firmware or ROM: the files before and after are known by their SHA-256; a file that is chosen is only hashed."""

    multipart = True
    before_file = forms.FileField(label="The file before", required=False, help_text="It is hashed, not kept.")
    before = LineField(label="or its SHA-256", required=False, max_length=64, widget=forms.TextInput({"class": "code"}))
    after_file = forms.FileField(label="The file after", required=False)
    after = LineField(label="or its SHA-256", required=False, max_length=64, widget=forms.TextInput({"class": "code"}))
    because = why()
    authority = authority(required=True)
    change = change()

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if not said.get("change"):
            self.add_error("change", "Say what it changed, and why that could not be avoided.")
        for name in ("before", "after"):
            said[name] = self._digest(name, said.pop(f"{name}_file", None), str(said.get(name) or "").lower())
        return said

    def _digest(self, name: str, file: Any, typed: str) -> str:
        if file:
            if file.size > LARGEST_FILE:
                self.add_error(name, "This file is larger than 64 MB. Give its SHA-256 instead.")
                return ""
            return hashlib.sha256(b"".join(file.chunks())).hexdigest()
        if not DIGEST.fullmatch(typed):
            self.add_error(name, "Choose the file, or give the 64 hexadecimal digits of its SHA-256.")
        return typed


class ShipForm(TouchForm):
    party = forms.ModelChoiceField(
        label="To", queryset=Thing._meta.get_field("party").related_model._default_manager.none(),
        error_messages={"required": "Say to whom it goes."},
        help_text="Whoever had it before. Finished cases go out by their own hand-over page.",
    )  # fmt: skip
    carrier = LineField(label="Carrier", max_length=100)
    tracking = LineField(
        label="Parcel number", max_length=100, required=False, widget=forms.TextInput({"class": "code"})
    )
    seals = SealsField(required=False, label="Seals put on the parcel")
    because = why(required=False)
    authority = authority()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        known = queries.parties_of(self.thing)
        self.fields["party"].queryset = known  # type: ignore[attr-defined]
        if len(known) == 1:
            self.initial.setdefault("party", known[0].pk)


class DeliveredForm(TouchForm):
    receiver = LineField(label="Who says so", max_length=200, help_text="The receiver, and how they said it.")
    because = why("In what state", required=False)


class BackForm(TouchForm):
    to = forms.ModelChoiceField(
        label="Put in",
        queryset=Place.objects.filter(in_use=True),
        error_messages={"required": "Say where it lies now."},
    )
    because = why()


class DestroyForm(TouchForm):
    method = LineField(label="How", max_length=200, help_text="What was done to it, and to which part.")
    because = why()
    authority = authority(required=True)
    witness = LineField(label="Who saw it", max_length=200, required=False)


class CorrectForm(LabForm):
    """What is right instead, in words; and where the thing really is, when that was wrong."""

    because = ProseField(label="What is right", rows=3, max_length=2000, help_text="In words that can stand instead.")
    to = forms.ModelChoiceField(
        label="It really lies in",
        queryset=Place.objects.filter(in_use=True),
        required=False,
        empty_label="where the record says",
    )
    happened = HappenedField()
