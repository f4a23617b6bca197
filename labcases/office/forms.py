"""The forms of the office."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from labcases.core.forms import AmountField, HappenedField, LabForm, LineField, ProseField
from labcases.office.models import Payment, Quote, Settlement

LINES = 8


class QuoteForm(LabForm):
    """Lines of words and amounts; what counts as success; how long it holds."""

    success = ProseField(
        label="Success means",
        rows=2,
        required=False,
        help_text="Which of the wanted things, and how much of them. The customer can check it.",
    )
    tax_rate = forms.DecimalField(label="Tax, %", min_value=0, max_value=100, decimal_places=2)
    valid_until = forms.DateField(
        label="Valid until", widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    )
    happened = HappenedField()

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for n in range(1, LINES + 1):
            self.fields[f"words-{n}"] = LineField(label=f"Line {n}", required=False, max_length=200)
            self.fields[f"amount-{n}"] = AmountField(label=f"Amount {n}", required=False, currency=currency)

    def clean_valid_until(self) -> Any:
        day = self.cleaned_data["valid_until"]
        if day < timezone.localdate():
            raise forms.ValidationError("This day has passed.")
        return day

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        for n in range(1, LINES + 1):
            words, amount = said.get(f"words-{n}"), said.get(f"amount-{n}")
            if words and amount is None and f"amount-{n}" not in self.errors:
                self.add_error(f"amount-{n}", "Say what this line costs; 0 when it is free.")
            if amount is not None and not words:
                self.add_error(f"words-{n}", "Say what this amount is for.")
        if not self.errors and not self.lines():
            raise forms.ValidationError("A quote has at least one line. Work that is free is a line with 0.")
        return said

    def pairs(self) -> list[tuple[Any, Any]]:
        """The fields of each line, for the page."""
        return [(self[f"words-{n}"], self[f"amount-{n}"]) for n in range(1, LINES + 1)]

    def lines(self) -> list[tuple[str, int]]:
        """Words and minor units of each line that was filled in."""
        said = self.cleaned_data
        pairs = ((said.get(f"words-{n}"), said.get(f"amount-{n}")) for n in range(1, LINES + 1))
        return [(words, amount) for words, amount in pairs if words and amount is not None]

    @property
    def basis_points(self) -> int:
        return round(self.cleaned_data["tax_rate"] * 100)


class AnswerForm(LabForm):
    """The customer's yes or no, as it reached us."""

    answer = forms.ChoiceField(label="Answer", choices=[("yes", "yes, go on"), ("no", "no")], widget=forms.RadioSelect)
    who = LineField(label="Who said so")
    how = LineField(
        label="How", help_text="Signed at the counter, by mail of which day, by phone at which hour, by a chat message."
    )
    happened = HappenedField()


class PaymentForm(LabForm):
    method = forms.ChoiceField(label="How", choices=Payment.Method.choices, widget=forms.RadioSelect)
    note = LineField(label="Note", required=False, help_text="For example the number of the receipt.")
    happened = HappenedField()

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"] = AmountField(
            label="Amount", currency=currency, negative=True, help_text="With a minus when it goes back."
        )
        self.order_fields(["amount", "method", "note", "happened"])

    def clean_amount(self) -> int:
        amount: int | None = self.cleaned_data["amount"]
        if not amount:
            raise forms.ValidationError("A payment is not zero.")
        return amount


class SettleForm(LabForm):
    how = forms.ChoiceField(label="The balance is", choices=Settlement.How.choices, widget=forms.RadioSelect)
    because = ProseField(label="Why", rows=2, max_length=2000)
    happened = HappenedField()


class QuoteFilter(forms.Form):
    """What the list of quotes is narrowed by."""

    q = LineField(label="Case", required=False)
    state = forms.ChoiceField(label="State", required=False, choices=[("", "every state"), *Quote.State.choices])

    def narrow(self, quotes: Any) -> Any:
        if not self.is_valid():
            return quotes
        said = self.cleaned_data
        if said["q"]:
            quotes = quotes.filter(case__thing__code__startswith=said["q"].replace("-", "").upper())
        return quotes.filter(state=said["state"]) if said["state"] else quotes
