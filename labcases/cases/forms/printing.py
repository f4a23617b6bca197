"""How a paper of the counter is printed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from labcases.cases.forms.fields import OneOf
from labcases.core.forms import CountField, LabForm
from labcases.paper.labels import SIZES, Label


class ReceiptForm(LabForm):
    """On which paper."""

    size = OneOf({"A4": "A4", "Letter": "Letter"}, label="Paper", required=True)


class LabelsForm(LabForm):
    """Which labels, on which sheet or roll, from which place on."""

    which = forms.MultipleChoiceField(
        label="Labels",
        widget=forms.CheckboxSelectMultiple,
        error_messages={
            "required": "Choose at least one label.",
            "invalid_choice": "A label of another case is not printed here.",
        },
    )
    size = forms.ChoiceField(label="Printed on", choices=[(size.key, size.words) for size in SIZES.values()])
    first = CountField(
        label="First free place", required=False, min_value=1, help_text="of a sheet that was begun; 1 is top left"
    )

    def __init__(self, *args: Any, labels: Sequence[Label], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(one.symbol, f"{one.code} {one.first_line}") for one in labels]
        which: Any = self.fields["which"]
        which.choices = choices
        which.initial = [symbol for symbol, _ in choices]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        said["first"] = said.get("first") or 1
        size = SIZES.get(said.get("size", ""))
        if size and said["first"] > size.per_page:
            self.add_error("first", f"This sheet has {size.per_page} places. Count from 1 to {size.per_page}.")
        return said
