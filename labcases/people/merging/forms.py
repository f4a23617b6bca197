"""Which of two records is right, field by field."""

from __future__ import annotations

from typing import Any

from django import forms

from labcases.core.forms import HappenedField, LabForm, LineField
from labcases.people import phone
from labcases.people.merging.actions import CHOSEN, said
from labcases.people.merging.comparing import BOTH, GONE, KEPT, Compared, compared
from labcases.people.models import Party

LABELS = {
    "name": "Name",
    "company": "Firm",
    "phone": "Phone",
    "email": "E-mail",
    "address": "Address for return",
    "country": "Country",
    "tax_number": "Tax number",
    "language": "Language",
    "channel": "Best reached by",
    "note": "Note",
}
JOINED = ("address", "note")  # of several lines: both may stay


class MergeForm(LabForm):
    """For every field that differs, which of the two stays; and how it is known that they are one customer."""

    because = LineField(
        label="Known from",
        help_text="For example: they named both numbers; the same card was shown.",
        error_messages={"required": "Say how you know that both are the same customer."},
    )
    happened = HappenedField()

    def __init__(self, *args: Any, kept: Party, gone: Party, country: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.kept, self.gone, self.country = kept, gone, country
        self.lines = compared(said(kept), said(gone), CHOSEN)
        for line in self.lines:
            if line.to_choose:
                self.fields[line.name] = self._choice(line)
        self.order_fields(["once", *CHOSEN, "because", "happened"])

    def _choice(self, line: Compared) -> forms.ChoiceField:
        picks = [(KEPT, self.shown(line.name, line.kept)), (GONE, self.shown(line.name, line.gone))]
        if line.name in JOINED and line.kept and line.gone:
            picks.append((BOTH, "both, one under the other"))
        first = BOTH if line.name == "note" and len(picks) > 2 else line.first
        return forms.ChoiceField(
            label=LABELS[line.name], choices=picks, initial=first, required=False, widget=forms.RadioSelect
        )

    def shown(self, name: str, value: str) -> str:
        if name == "phone" and value:
            return phone.shown(value, self.country)
        if name == "channel" and value:
            return str(Party.Channel(value).label)
        return value or "leave it blank"

    def side_by_side(self) -> list[dict[str, str]]:
        """Every field that either record fills, for the table."""
        return [
            {"label": LABELS[line.name], "mark": line.mark, "words": line.words}
            | {"kept": self.shown(line.name, line.kept) if line.kept else ""}
            | {"gone": self.shown(line.name, line.gone) if line.gone else ""}
            for line in self.lines
            if line.mark != "unknown"
        ]

    def chosen(self) -> dict[str, str]:
        """What stays, field by field; where nothing is chosen, what was proposed."""
        return {line.name: self.cleaned_data[line.name] or line.first for line in self.lines if line.to_choose}


class PartForm(LabForm):
    """Why two records are parted again."""

    because = LineField(label="Why", error_messages={"required": "Say why the two are parted again."})
    happened = HappenedField()
