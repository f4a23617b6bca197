from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.office.pricing import GstSplit, Line, Rounding, gst_split, half_up, line_net, net_within, tax_summary

RATES = st.decimals(0, 40, places=1)
AMOUNTS = st.integers(-(10**9), 10**9)
LINES = st.lists(st.builds(Line, AMOUNTS, RATES), max_size=8)


@given(LINES, LINES, LINES, st.sampled_from(Rounding), AMOUNTS)
def test_the_totals_of_a_document_always_add_up(
    lines: list[Line], allowances: list[Line], charges: list[Line], rounding: Rounding, prepaid: int
) -> None:
    s = tax_summary(lines, "EUR", allowances=allowances, charges=charges, rounding=rounding, prepaid=prepaid)
    assert s.net == s.lines - s.allowances + s.charges == sum(group.taxable for group in s.groups)
    assert s.tax == sum(group.tax for group in s.groups)
    assert s.payable == s.gross - s.prepaid == s.net + s.tax - prepaid


@given(LINES, st.sampled_from(Rounding))
def test_prices_that_include_tax_are_never_changed_by_it(lines: list[Line], rounding: Rounding) -> None:
    assert tax_summary(lines, "EUR", rounding=rounding, inclusive=True).gross == sum(line.amount for line in lines)


@given(LINES, st.sampled_from(Rounding), st.booleans())
def test_a_credit_note_mirrors_its_invoice(lines: list[Line], rounding: Rounding, inclusive: bool) -> None:
    credit = [line._replace(amount=-line.amount) for line in lines]
    invoiced = tax_summary(lines, "EUR", rounding=rounding, inclusive=inclusive)
    credited = tax_summary(credit, "EUR", rounding=rounding, inclusive=inclusive)
    assert (credited.net, credited.tax, credited.payable) == (-invoiced.net, -invoiced.tax, -invoiced.payable)


def test_one_rate_written_in_two_ways_is_one_group_and_categories_are_kept_apart() -> None:
    lines = [Line(100, Decimal(19)), Line(100, Decimal("19.0")), Line(100, Decimal(19), "K"), (100, None)]
    assert [group.taxable for group in tax_summary(lines, "EUR").groups] == [200, 100, 100]


def test_line_by_line_and_by_document_may_differ_by_a_cent() -> None:
    lines = [Line(3, Decimal(19))] * 3
    assert tax_summary(lines, "EUR").tax == 2
    assert tax_summary(lines, "EUR", rounding=Rounding.LINE).tax == 3


def test_what_is_left_to_pay_may_be_rounded_for_cash() -> None:
    summary = tax_summary([Line(1003, None)], "CHF", prepaid=500, payable_rounding=2)
    assert (summary.gross, summary.payable) == (1003, 505)


def test_a_document_without_lines_owes_nothing() -> None:
    summary = tax_summary([], "JPY")
    assert (summary.groups, summary.payable) == ((), 0)


def test_the_net_of_a_line_rounds_once_before_its_own_charges_and_allowances() -> None:
    assert line_net(3, Decimal("33.35"), charges=[10, 5], allowances=[1]) == 114
    assert line_net(Decimal("100"), Decimal("12.12"), base_quantity=10) == 121


@pytest.mark.parametrize(("value", "rounded"), [("0.5", 1), ("-0.5", -1), ("1.499999", 1), ("-1.5", -2), ("7", 7)])
def test_halves_go_away_from_zero(value: str, rounded: int) -> None:
    assert half_up(Decimal(value)) == rounded


@given(st.integers(0, 10**12), RATES)
def test_the_net_within_a_price_is_nearest_to_the_exact_one(gross: int, rate: Decimal) -> None:
    exact = Decimal(gross) * 100 / (100 + rate)
    assert abs(net_within(gross, rate) - exact) <= Decimal("0.5000001")


def test_the_two_halves_of_gst_are_equal_even_where_the_whole_is_odd() -> None:
    assert gst_split(7525, 12) == GstSplit(cgst=452, sgst=452, igst=903)


@pytest.mark.parametrize("line", [Line(1.5, Decimal(19)), Line(True, Decimal(19)), Line(1, 19.0)])  # type: ignore[arg-type]
def test_what_is_not_exact_is_refused(line: Line) -> None:
    with pytest.raises(TypeError, match=r"whole minor units|not computed from the float"):
        tax_summary([line], "EUR")


def test_an_unknown_currency_is_refused() -> None:
    with pytest.raises(ValueError, match="no ISO 4217 currency"):
        tax_summary([], "EURO")
