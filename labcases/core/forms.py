"""The base of every form: a one-time key, clean text, sentences for people, refusals beside the fields."""

from __future__ import annotations

import re
import uuid
from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.utils import timezone

from labcases.core import money, text
from labcases.core.refused import Refused

MINUTES_OF_SKEW = 5
OLDEST = 1990  # a year below is a slip of the pen, and year 1 has no moment in every zone


class LineField(forms.CharField):
    """One line; control characters and stray blanks are taken out, other alphabets stay."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 300)
        super().__init__(*args, **kwargs)

    def to_python(self, value: Any) -> str:
        return text.one_line(super().to_python(value) or "")


class ProseField(forms.CharField):
    """Several lines."""

    widget = forms.Textarea

    def __init__(self, *args: Any, rows: int = 3, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 20_000)
        kwargs.setdefault("widget", forms.Textarea(attrs={"rows": rows}))
        super().__init__(*args, **kwargs)

    def to_python(self, value: Any) -> str:
        return text.many_lines(super().to_python(value) or "")


class CountField(forms.IntegerField):
    """A whole number of things; blanks and group marks between digits are read over."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("min_value", 0)
        kwargs.setdefault("max_value", 2**53 - 1)
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "numeric", "class": "code"}))
        super().__init__(*args, **kwargs)

    def to_python(self, value: Any) -> int | None:
        if isinstance(value, str):
            value = re.sub(r"(?<=\d)[\s ,_'](?=\d)", "", value.strip())
        return super().to_python(value)


class AmountField(LineField):
    """Money as people type it, in one currency (ISO 4217); gives minor units, None when left blank.

    A form may set ``currency`` later. Below zero is refused, in the words of ``error_messages["negative"]``, unless
    ``negative``.
    """

    default_error_messages = {"negative": "This cannot be less than nothing."}

    def __init__(self, *args: Any, currency: str = "EUR", negative: bool = False, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 40)
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal", "class": "code short"}))
        super().__init__(*args, **kwargs)
        self.currency, self.negative = currency, negative

    def clean(self, value: Any) -> int | None:
        typed = super().clean(value)
        if not typed:
            return None
        try:
            amount = money.parse_amount(typed, self.currency)
        except money.NotAnAmount as mistake:
            raise forms.ValidationError(str(mistake)) from None
        if amount < 0 and not self.negative:
            raise forms.ValidationError(self.error_messages["negative"])
        return amount


class HappenedField(forms.DateTimeField):
    """When it happened, in the lab's zone; now unless said. Late entry is normal, the future is not."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("label", "Happened")
        kwargs.setdefault("required", False)
        kwargs.setdefault("help_text", "Leave as it is for now; set it back when you enter this later.")
        widget = forms.DateTimeInput(format="%Y-%m-%dT%H:%M", attrs={"type": "datetime-local"})
        kwargs.setdefault("widget", widget)
        super().__init__(*args, input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"], **kwargs)

    def clean(self, value: Any) -> datetime:
        happened: datetime | None = super().clean(value)
        now = timezone.now()
        if happened is None:
            return now
        if happened.year < OLDEST:
            raise forms.ValidationError("This lies too far back. Look at the year again.")
        if happened > now + timedelta(minutes=MINUTES_OF_SKEW):
            raise forms.ValidationError("This lies in the future. Say when it really happened.")
        # A page opened a few minutes ago still says its own minute: that is "now", and seconds keep the order.
        return now if abs(now - happened) < timedelta(minutes=MINUTES_OF_SKEW) else happened


class LabForm(forms.Form):
    """A form with a one-time key. ``once`` travels with the blank form and comes back with it."""

    once = forms.UUIDField(widget=forms.HiddenInput, required=False, initial=uuid.uuid4)
    unhashed: frozenset[str] = frozenset()  # fields whose content leaves no trace, not even a hash
    template_name_div = "ui/_form.html"

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)

    def full_clean(self) -> None:
        """Django's own sentence for an empty field names nothing: ours does, unless the field has its own."""
        for field in self.fields.values():
            if field.error_messages.get("required") == forms.Field.default_error_messages["required"]:
                field.error_messages["required"] = f"{field.label or 'This'} is needed."
        super().full_clean()

    @property
    def key(self) -> uuid.UUID:
        """The one-time key that was sent, or a new one when the sender left it out."""
        return self.cleaned_data.get("once") or uuid.uuid4()

    def add_refusal(self, refused: Refused) -> None:
        """Show a refusal on top of the form; nothing typed is cleared."""
        self.add_error(None, [forms.ValidationError(sentence) for sentence in refused.sentences()])
