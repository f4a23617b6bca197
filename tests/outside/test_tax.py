"""Tax and totals against published rules and invoices.

Sources: HM Revenue & Customs manual VATREC12030 on half a penny (vectors/tax_rounding.json); net = gross / (1 + rate)
(vectors/tax_inclusive.json); rules BR-CO-10 to -17 of EN 16931 and example invoices of the public repositories
eInvoicing-EN16931 and peppol-bis-invoice-3 (vectors/invoice_totals_en16931.json); CGST Act 2017 s.170
(vectors/gst_split.json; that CGST and SGST are equal halves is from memory). Each file says how its numbers came about.
"""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from labcases.core.money import minor_digits
from labcases.office.pricing import Line, Rounding, TaxGroup, gst_split, line_net, net_within, tax_on, tax_summary


def cases(topic: str) -> list[dict[str, Any]]:
    path = Path(__file__).parent / "vectors" / f"{topic}.json"
    return list(json.loads(path.read_text(encoding="utf-8"))["cases"])


def minor(text: str | None, currency: str = "EUR") -> int:
    exact = Decimal(text or 0) * 10 ** minor_digits(currency)
    assert exact == int(exact)
    return int(exact)


@pytest.mark.parametrize("case", [c for c in cases("tax_rounding") if "net" in c and "lines_net" not in c])
def test_half_a_unit_or_more_is_rounded_up(case: dict[str, Any]) -> None:
    assert tax_on(Decimal(case["net"]) * 100, Decimal(case["rate_percent"])) == minor(case["tax_half_up"])


@pytest.mark.parametrize("case", [c for c in cases("tax_rounding") if "lines_net" in c], ids=lambda c: c["name"])
@pytest.mark.parametrize(
    ("rounding", "expected"),
    [(Rounding.LINE, "tax_sum_of_rounded_lines"), (Rounding.DOCUMENT, "tax_on_document_total")],
)
def test_tax_by_line_and_by_document(case: dict[str, Any], rounding: Rounding, expected: str) -> None:
    lines = [Line(minor(net), Decimal(case["rate_percent"])) for net in case["lines_net"]]
    summary = tax_summary(lines, "EUR", rounding=rounding)
    assert (summary.net, summary.tax) == (minor(case["net"]), minor(case[expected]))


@pytest.mark.parametrize("case", cases("tax_inclusive"), ids=lambda case: f"{case['gross']} at {case['rate_percent']}")
def test_tax_within_a_price(case: dict[str, Any]) -> None:
    gross, rate = minor(case["gross"]), Decimal(case["rate_percent"])
    summary = tax_summary([Line(gross, rate)], "EUR", inclusive=True)
    assert net_within(gross, rate) == summary.net == minor(case["net_half_up"])
    assert (summary.tax, summary.gross) == (minor(case["tax_by_subtraction"]), gross)


@pytest.mark.parametrize("case", cases("gst_split"), ids=lambda case: case["taxable"])
def test_both_halves_and_the_whole_of_gst(case: dict[str, Any]) -> None:
    taxable, rate = minor(case["taxable"]), Decimal(case["rate_percent"])
    assert gst_split(taxable, rate) == tuple(minor(case[key]) for key in ("cgst", "sgst", "igst_if_interstate"))
    rupees, rounded = case["rupee_rounded_s170"], gst_split(taxable, rate, whole_rupees=True)
    assert (rounded.cgst, rounded.sgst) == (minor(rupees["cgst"]), minor(rupees["sgst"]))
    if "igst" in rupees:
        assert rounded.igst == minor(rupees["igst"])


INVOICES = [pytest.param(case, id=case["source"].rpartition("/")[2]) for case in cases("invoice_totals_en16931")]


def taxed(row: dict[str, Any], amount: int) -> Line:
    rate = row["vat_rate"]
    return Line(amount, None if rate is None else Decimal(rate), row["vat_category"])


@pytest.mark.parametrize("case", INVOICES)
def test_the_lines_of_published_invoices(case: dict[str, Any]) -> None:
    for line in case["lines"]:
        net = line_net(
            Decimal(line["quantity"]),
            Decimal(line["net_price"]) * 10 ** minor_digits(case["currency"]),
            base_quantity=Decimal(line["base_quantity"]),
            allowances=[minor(amount) for amount in line["line_allowances"]],
            charges=[minor(amount) for amount in line["line_charges"]],
        )
        assert net == minor(line["line_net"])


@pytest.mark.parametrize("case", INVOICES)
def test_the_totals_of_published_invoices(case: dict[str, Any]) -> None:
    adjusted, totals = case["document_allowances_charges"], case["totals"]
    summary = tax_summary(
        [taxed(line, minor(line["line_net"])) for line in case["lines"]],
        case["currency"],
        allowances=[taxed(row, minor(row["amount"])) for row in adjusted if not row["charge"]],
        charges=[taxed(row, minor(row["amount"])) for row in adjusted if row["charge"]],
        prepaid=minor(totals["prepaid"]),
        payable_rounding=minor(totals["rounding"]),
    )
    rows = [
        TaxGroup(row["category"], row["rate"] and Decimal(row["rate"]), minor(row["taxable"]), minor(row["tax"]))
        for row in case["vat_breakdown"]
    ]
    assert sorted(summary.groups, key=repr) == sorted(rows, key=repr)
    assert (summary.lines, summary.allowances, summary.charges) == tuple(
        minor(totals[key]) for key in ("sum_lines", "sum_allowances", "sum_charges")
    )
    assert (summary.net, summary.tax, summary.gross, summary.payable) == tuple(
        minor(totals[key]) for key in ("without_vat", "vat", "with_vat", "payable")
    )
