"""The verbs of a donor and its parts, and of what is to be bought."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.utils import timezone

from labcases.cases.forms.inside import KeptField
from labcases.core.forms import AmountField, HappenedField, LabForm, LineField, ProseField
from labcases.lab.models import Place
from labcases.media.inside import heads_said
from labcases.stock.models import DonorPart, PartAssignment
from labcases.stock.rules import PartKind

KINDS = [(kind.value, kind.value) for kind in PartKind]
USUAL_DAYS = 3


class PartForm(LabForm):
    """A further part of a donor."""

    part = forms.ChoiceField(label="Part", choices=KINDS, widget=forms.RadioSelect)
    tested = LineField(label="Tested", required=False, max_length=200, help_text="How, and what came out.")
    note = ProseField(label="Note", required=False, rows=2, max_length=2000)
    happened = HappenedField()


class TestForm(LabForm):
    """How a part was tested; of a head stack, which heads are alive."""

    __test__ = False  # it is no test class
    tested = LineField(label="Tested", max_length=200, help_text="How, and what came out.")
    result = forms.ChoiceField(
        label="It is", choices=[("", "not said"), *DonorPart.Test.choices], required=False, widget=forms.RadioSelect
    )
    heads_alive = KeptField(
        label="Heads alive", read=heads_said, max_length=200, help_text="By position, from 0: 0 1 3. Blank: not known."
    )
    spoiled = forms.BooleanField(label="it is spoiled", required=False)
    happened = HappenedField()

    def __init__(self, *args: Any, kind: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if kind != PartKind.HEAD_STACK:
            del self.fields["heads_alive"]


class JudgeForm(LabForm):
    """Whether a part worked, and why: the lab's most valuable knowledge."""

    outcome = forms.ChoiceField(
        label="It", choices=PartAssignment.Outcome.choices, widget=forms.RadioSelect,
        error_messages={"required": "Say whether it worked."},
    )  # fmt: skip
    because = ProseField(label="Why, or how far", rows=3, max_length=2000)
    afterwards = forms.ChoiceField(
        label="It is now",
        choices=[
            (DonorPart.State.USED.value, "used up"),
            (DonorPart.State.SPOILED.value, "spoiled"),
            (DonorPart.State.FREE.value, "back on its shelf, free again"),
        ],
        widget=forms.RadioSelect,
        initial=DonorPart.State.USED,
    )
    heads_alive = KeptField(
        label="Heads alive now", read=heads_said, max_length=200, help_text="By position: 0 1 3. Blank: as known."
    )
    happened = HappenedField()

    def __init__(self, *args: Any, kind: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if kind != PartKind.HEAD_STACK:
            del self.fields["heads_alive"]


class StripForm(LabForm):
    """A part is taken off its donor."""

    place = forms.ModelChoiceField(
        label="Put in", queryset=Place.objects.filter(in_use=True), required=False, empty_label="my hands"
    )
    because = LineField(label="Note", required=False, max_length=500)
    happened = HappenedField()


class PartChangeForm(LabForm):
    """What one part cost, and what is noted of it."""

    note = ProseField(label="Note", required=False, rows=3, max_length=2000)

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        words = f"Its share, in {currency}. Blank: what the whole donor cost."
        self.fields["cost"] = AmountField(label="Cost", currency=currency, help_text=words, required=False)


class ReserveForm(LabForm):
    """Keep a part for a patient until a time."""

    chosen = LineField(label="Part", max_length=40, widget=forms.HiddenInput)
    until = forms.DateTimeField(
        label="Until",
        input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"],
        widget=forms.DateTimeInput(format="%Y-%m-%dT%H:%M", attrs={"type": "datetime-local"}),
        help_text="Then it is free again by itself.",
        error_messages={"invalid": "Write the day and the time, for example 2026-11-28T18:00."},
    )
    because = LineField(label="Why", required=False, max_length=500)

    @staticmethod
    def usual_end() -> datetime:
        """A few days ahead, at the full hour."""
        later = timezone.localtime() + timedelta(days=USUAL_DAYS)
        return later.replace(minute=0, second=0, microsecond=0)


class NeedForm(LabForm):
    """Put a part for a patient on the list to buy."""

    part = forms.ChoiceField(label="Part", choices=KINDS, widget=forms.RadioSelect)
    note = ProseField(label="Note", required=False, rows=2, max_length=2000, help_text="For whoever buys it.")


class OrderForm(LabForm):
    """Where it is ordered, for how much, promised for when."""

    supplier = LineField(label="Where", max_length=200, error_messages={"required": "Say where it is ordered."})
    promised = forms.DateField(
        label="Promised", required=False, widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
        error_messages={"invalid": "Write the date as 2026-11-25, or leave it blank."},
    )  # fmt: skip
    non_refundable = forms.BooleanField(
        label="the customer pays it whatever comes of it", required=False, help_text="As a fee, which is no deposit."
    )
    because = LineField(label="Note", required=False, max_length=500)
    happened = HappenedField()

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        words = f"In {currency}."
        self.fields["price"] = AmountField(label="Price", currency=currency, help_text=words, required=False)
        self.order_fields(["supplier", "price", "promised"])


class SentenceForm(LabForm):
    """A sentence that may be left out."""

    because = ProseField(label="Note", rows=2, max_length=2000, required=False)
    happened = HappenedField()
