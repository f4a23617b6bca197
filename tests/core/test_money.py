from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.core import money
from labcases.core.money import CurrencyMismatch, Money, NotAnAmount, allocate, parse_amount

ANY_CURRENCY = st.sampled_from(money.currencies())
ANY_AMOUNT = st.integers(-money.LARGEST, money.LARGEST)


@pytest.mark.parametrize(
    ("text", "currency", "minor"),
    [
        ("1234.5", "EUR", 123450),
        ("1234,50", "EUR", 123450),
        ("1 234,50", "EUR", 123450),
        ("1,234.50", "EUR", 123450),
        ("1.234,50", "EUR", 123450),
        ("1’234’567.05", "CHF", 123456705),
        ("1.234.567", "EUR", 123456700),
        ("1\N{NARROW NO-BREAK SPACE}234", "EUR", 123400),
        ("1234", "EUR", 123400),
        (" 7 eur ", "EUR", 700),
        ("EUR 7.00", "EUR", 700),
        (".5", "EUR", 50),
        ("0", "EUR", 0),
        ("-3.10", "EUR", -310),
        ("\N{MINUS SIGN}3.10", "EUR", -310),
        ("1,234", "JPY", 1234),
        ("1.234", "JPY", 1234),
        ("1.234", "KWD", 1234),
        ("0,125", "KWD", 125),
        ("1,234.567", "KWD", 1234567),
    ],
)
def test_an_amount_is_read_as_people_type_it(text: str, currency: str, minor: int) -> None:
    assert parse_amount(text, currency) == minor


@pytest.mark.parametrize(
    ("text", "currency", "named"),
    [
        ("1.234", "EUR", "two ways. Write 1234 for thousands; decimals have 2 digits"),
        ("1,234", "EUR", "two ways"),
        ("1,234", "KWD", "two ways. Write 1234 for thousands; or 1.234 with a point"),
        ("12.345,678", "EUR", "3 decimals; this currency has at most 2"),
        ("0.005", "EUR", "3 decimals; this currency has at most 2"),
        ("1.5", "JPY", "1 decimals; this currency has no decimals"),
        ("", "EUR", "no amount"),
        ("-", "EUR", "no amount"),
        (".", "EUR", "no amount"),
        ("12 34", "EUR", "no amount"),
        ("1,23,456", "INR", "no amount"),
        ("1,234,50", "EUR", "no amount"),
        ("1.2.3", "EUR", "no amount"),
        ("1e3", "EUR", "no amount"),
        ("٣", "EUR", "no amount"),
        ("5 GBP", "EUR", "no amount"),
        ("--5", "EUR", "no amount"),
        ("9" * 17, "EUR", "larger than any"),
        ("9" * 5000, "EUR", "larger than any"),
        ("90071992547409.92", "EUR", "larger than any"),
    ],
)
def test_what_is_no_amount_is_refused_with_a_sentence(text: str, currency: str, named: str) -> None:
    with pytest.raises(NotAnAmount, match=named):
        parse_amount(text, currency)


@given(ANY_AMOUNT, ANY_CURRENCY)
def test_what_money_writes_it_reads_back(amount: int, currency: str) -> None:
    held = Money(amount, currency)
    assert parse_amount(held.plain(), currency) == amount
    assert parse_amount(held.words(), currency) == amount


@given(st.text(max_size=12), ANY_CURRENCY)
def test_any_text_at_all_is_an_amount_or_refused_by_name(text: str, currency: str) -> None:
    try:
        amount = parse_amount(text, currency)
    except NotAnAmount:
        return
    assert abs(amount) <= money.LARGEST


@pytest.mark.parametrize(
    ("amount", "currency", "words", "plain"),
    [
        (123450, "EUR", "1,234.50 EUR", "1234.50"),
        (-5, "EUR", "-0.05 EUR", "-0.05"),
        (1234567, "JPY", "1,234,567 JPY", "1234567"),
        (1234567, "KWD", "1,234.567 KWD", "1234.567"),
    ],
)
def test_money_is_written_with_the_decimals_of_its_currency(amount: int, currency: str, words: str, plain: str) -> None:
    assert (Money(amount, currency).words(), Money(amount, currency).plain()) == (words, plain)


def test_money_adds_and_compares_within_its_currency() -> None:
    small, large = Money(100, "EUR"), Money(250, "EUR")
    assert (small + large, large - small, -small, 3 * small) == tuple(Money(n, "EUR") for n in (350, 150, -100, 300))
    assert small < large >= large
    assert max(small, large) == large


@pytest.mark.parametrize("operation", ["__add__", "__sub__", "__lt__", "__le__", "__gt__", "__ge__"])
def test_two_currencies_are_never_mixed(operation: str) -> None:
    with pytest.raises(CurrencyMismatch, match=r"1\.00 EUR and 1\.00 USD are different currencies"):
        getattr(Money(100, "EUR"), operation)(Money(100, "USD"))


@pytest.mark.parametrize("amount", [1.0, "1", True, None])
def test_money_is_whole_minor_units_and_nothing_else(amount: object) -> None:
    with pytest.raises(TypeError, match="whole minor units"):
        Money(amount, "EUR")  # type: ignore[arg-type]


def test_money_is_not_multiplied_by_a_fraction() -> None:
    with pytest.raises(TypeError):
        Money(100, "EUR") * 1.5  # type: ignore[operator]


@pytest.mark.parametrize("currency", ["", "eur", "XXX", "XAU", "EURO"])
def test_a_code_that_is_no_currency_is_refused(currency: str) -> None:
    with pytest.raises(ValueError, match="no ISO 4217 currency"):
        Money(1, currency)


@given(ANY_AMOUNT, st.lists(st.integers(0, 10**6), min_size=1, max_size=12).filter(any))
def test_shares_add_up_and_none_is_a_whole_unit_from_its_due(total: int, weights: list[int]) -> None:
    shares = allocate(total, weights)
    assert sum(shares) == total
    assert all(abs(s * sum(weights) - total * w) < sum(weights) for s, w in zip(shares, weights, strict=True))


def test_a_negative_total_is_shared_like_its_opposite() -> None:
    assert allocate(-100, [1, 1, 1]) == [-34, -33, -33]


def test_nothing_is_shared_among_nobody_but_something_is_not() -> None:
    assert allocate(0, [0, 0]) == [0, 0]
    for total, weights in ((5, []), (5, [0, 0]), (5, [3, -1])):
        with pytest.raises(ValueError, match="cannot be shared"):
            allocate(total, weights)
