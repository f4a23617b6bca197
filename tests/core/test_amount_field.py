"""Money as people type it, in one field for every room."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError

from labcases.core.forms import AmountField


@pytest.mark.parametrize(
    ("typed", "currency", "minor"),
    [
        ("", "EUR", None),
        ("20 000", "EUR", 2_000_000),
        ("12.50", "EUR", 1_250),
        ("1,250.5", "EUR", 125_050),
        ("300", "JPY", 300),
    ],
)
def test_what_is_typed_becomes_minor_units(typed, currency, minor):
    """Minor units after ISO 4217: two for EUR, none for JPY."""
    assert AmountField(required=False, currency=currency).clean(typed) == minor


@pytest.mark.parametrize("typed", ["a lot", "1.2.3", "12.345"])
def test_what_is_no_amount_is_refused(typed):
    with pytest.raises(ValidationError):
        AmountField().clean(typed)


def test_below_zero_is_for_fields_that_ask_for_it():
    assert AmountField(negative=True).clean("-5") == -500
    with pytest.raises(ValidationError, match="dearer"):
        AmountField(error_messages={"negative": "dearer"}).clean("-5")


def test_a_form_may_set_the_currency_later():
    field = AmountField()
    field.currency = "JPY"
    assert field.clean("300") == 300
