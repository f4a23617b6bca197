"""What stops a case or ends an item: always with a reason."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from labcases.core.forms import HappenedField, LabForm, ProseField

EXIT_WORDS = {
    "declined": "declined: the customer does not want the work",
    "unrecoverable": "unrecoverable: nothing more can be read",
    "withdrawn": "withdrawn: the customer takes it back as it is",
    "abandoned": "abandoned: nobody comes for it",
}


class StopForm(LabForm):
    """A reason, and when it was."""

    because = ProseField(
        label="Why", rows=3, max_length=4_000, error_messages={"required": "Say why. It stands in the day-book."}
    )
    happened = HappenedField()


class EndItemForm(LabForm):
    """Which exit, and why."""

    to = forms.ChoiceField(
        label="It is", widget=forms.RadioSelect, error_messages={"required": "Say how its way ends."}
    )
    because = ProseField(
        label="Why", rows=3, max_length=4_000, error_messages={"required": "Say why. The customer may ask years later."}
    )
    happened = HappenedField()

    def __init__(self, *args: Any, exits: Sequence[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        to: Any = self.fields["to"]
        to.choices = [(name, EXIT_WORDS[name]) for name in exits]
