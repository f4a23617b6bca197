"""What is said of a photo."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from labcases.core.forms import LabForm, LineField
from labcases.custody.models import Thing


class WordsForm(LabForm):
    """What a photo shows, and which thing of the case."""

    words = LineField(
        label="It shows",
        required=False,
        max_length=200,
        help_text="label, board, connector, dent at the corner …",
    )
    thing = forms.ModelChoiceField(label="Belongs to", required=False, queryset=Thing.objects.none(), empty_label=None)

    def __init__(self, *args: Any, things: Sequence[Thing], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if len(things) < 2:
            del self.fields["thing"]
            return
        field = self.fields["thing"]
        field.queryset = Thing.objects.filter(pk__in=[thing.pk for thing in things])  # type: ignore[attr-defined]
        field.label_from_instance = lambda thing: f"{thing}, {thing.words}"  # type: ignore[attr-defined]


class WithdrawForm(LabForm):
    """Why a photo is not shown any more."""

    because = LineField(
        label="Why", max_length=200, error_messages={"required": "Say why: another thing, blurred, a face in it …"}
    )
