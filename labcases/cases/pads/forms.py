"""What is asked before a pad is reserved, printed, or one of its sheets voided."""

from __future__ import annotations

from django import forms

from labcases.cases.forms.fields import OneOf
from labcases.cases.pads.actions import MOST_SHEETS
from labcases.core.forms import CountField, HappenedField, LabForm, ProseField


class PadForm(LabForm):
    """How many sheets."""

    count = CountField(
        label="Sheets",
        min_value=1,
        max_value=MOST_SHEETS,
        initial=20,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "class": "code short"}),
        error_messages={
            "required": "Say how many sheets.",
            "invalid": "Write how many sheets in digits.",
            "min_value": "A pad has one sheet at least.",
            "max_value": f"A pad has {MOST_SHEETS} sheets at most. Reserve a second one for more.",
        },
    )


class PrintPadForm(LabForm):
    """On which paper."""

    size = OneOf({"A4": "A4", "Letter": "Letter"}, label="Paper", required=True)


class VoidSheetForm(LabForm):
    """Why the sheet will not be typed in."""

    because = ProseField(
        label="Why",
        rows=2,
        max_length=1_000,
        error_messages={"required": "Say why: spoilt, lost, written twice. It stands in the day-book."},
    )
    happened = HappenedField()
