"""What is owed: net amounts of lines, tax by category and rate, the totals of a document.

All amounts are integers in minor units of one currency; rates are percent as Decimal. The algorithm is that of
EN 16931, whose rule names stand at each step. Rounding is half up, away from zero: half a unit or more counts
as one, and a credit mirrors its invoice.

1. A line's net amount is price / base quantity x quantity, rounded, plus its charges, less its allowances.
2. Lines, document charges and document allowances are summed by tax category and rate: the taxable amounts.
3. Tax of a group is taxable x rate / 100, rounded once (BR-CO-17). A lab may instead have to round line by line;
   both are legal choices in different places, so it is a setting and each gives its own cent.
4. Prices that include tax: the group's net is its gross / (1 + rate / 100), rounded; tax is gross less net.
5. Totals are sums of amounts already rounded, never rounded again (BR-CO-10 to -16).

>>> from decimal import Decimal
>>> labour = Line(line_net(Decimal("2.5"), Decimal(8000)), Decimal(19))
>>> parcel = Line(1190, Decimal(7))
>>> summary = tax_summary([labour, parcel], "EUR", prepaid=5000)
>>> [(group.rate, group.taxable, group.tax) for group in summary.groups]
[(Decimal('19'), 20000, 3800), (Decimal('7'), 1190, 83)]
>>> summary.net, summary.tax, summary.gross, summary.payable
(21190, 3883, 25073, 20073)
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from labcases.core.money import minor_digits

Exact = int | Decimal | Fraction  # a number without the error a float has


class Rounding(StrEnum):
    """Where tax is rounded to the minor unit."""

    DOCUMENT = "document"  # once for each category and rate, as EN 16931 does
    LINE = "line"


class Line(NamedTuple):
    """An amount under a tax: of a line, a document charge or a document allowance (both positive).

    ``rate`` is percent, None where no tax applies at all; ``category`` is the EN 16931 code (UNTDID 5305), ``S``
    the standard one. A plain tuple in this order will do as well.
    """

    amount: int
    rate: Decimal | None
    category: str = "S"


@dataclass(frozen=True)
class TaxGroup:
    """One row of the tax breakdown of a document: BT-118, BT-119, BT-116, BT-117."""

    category: str
    rate: Decimal | None
    taxable: int
    tax: int


@dataclass(frozen=True)
class TaxSummary:
    """The totals of a document in minor units. ``gross`` is net and tax, ``payable`` what is left to pay."""

    currency: str
    groups: tuple[TaxGroup, ...]
    lines: int
    allowances: int
    charges: int
    net: int
    tax: int
    gross: int
    prepaid: int
    rounding: int
    payable: int


class GstSplit(NamedTuple):
    """Tax of one supply in India: both halves within a state, or the whole between states."""

    cgst: int
    sgst: int
    igst: int


def half_up(value: Exact) -> int:
    """The nearest integer, halves away from zero.

    >>> half_up(Decimal("2.5")), half_up(Decimal("-2.5")), half_up(Decimal("2.49"))
    (3, -3, 2)
    """
    exact = _exact(value)
    whole = (2 * abs(exact.numerator) + exact.denominator) // (2 * exact.denominator)
    return whole if exact >= 0 else -whole


def tax_on(net: Exact, rate: Exact | None) -> int:
    """Tax on a net amount at a rate in percent, half up; nothing where no rate applies."""
    return half_up(_exact(net) * _percent(rate))


def net_within(gross: int, rate: Exact | None) -> int:
    """The net amount within a price that includes tax, half up; the tax is the rest."""
    return half_up(gross / (1 + _percent(rate)))


def line_net(
    quantity: Exact,
    price: Exact,
    *,
    base_quantity: Exact = 1,
    allowances: Iterable[int] = (),
    charges: Iterable[int] = (),
) -> int:
    """The net amount of a line, BT-131. ``price`` is for ``base_quantity``, in minor units, and may have decimals."""
    return half_up(_exact(price) / _exact(base_quantity) * _exact(quantity)) + sum(charges) - sum(allowances)


def tax_summary(
    lines: Iterable[Line | tuple[int, Decimal | None]],
    currency: str,
    *,
    allowances: Iterable[Line] = (),
    charges: Iterable[Line] = (),
    rounding: Rounding = Rounding.DOCUMENT,
    inclusive: bool = False,
    prepaid: int = 0,
    payable_rounding: int = 0,
) -> TaxSummary:
    """The tax breakdown and totals of a quote, an invoice or a credit note.

    ``inclusive`` says that all amounts given include their tax; the totals of lines, allowances and charges are
    then gross too, and ``net`` is gross less tax. Groups come in the order in which their rates first appear.
    Raises ValueError for an unknown currency, TypeError for an amount or rate that is not exact.
    """
    minor_digits(currency)
    lines, allowances, charges = ([Line(*line) for line in given] for given in (lines, allowances, charges))
    lowered = [line._replace(amount=-line.amount) for line in allowances]
    groups = _groups([*lines, *charges, *lowered], rounding, inclusive=inclusive)
    net, tax = sum(group.taxable for group in groups), sum(group.tax for group in groups)
    return TaxSummary(
        currency=currency,
        groups=groups,
        lines=_total(lines),  # BR-CO-10
        allowances=_total(allowances),  # BR-CO-11
        charges=_total(charges),  # BR-CO-12
        net=net,  # BR-CO-13
        tax=tax,  # BR-CO-14
        gross=net + tax,  # BR-CO-15
        prepaid=prepaid,
        rounding=payable_rounding,
        payable=net + tax - prepaid + payable_rounding,  # BR-CO-16
    )


def gst_split(taxable: int, rate: Exact, *, whole_rupees: bool = False) -> GstSplit:
    """CGST, SGST and IGST on an amount in paise at a rate in percent.

    Each half is computed by itself at half the rate: the halves must be equal, so the rounded whole is never
    split, and twice the half may differ from the whole by one paisa. ``whole_rupees`` rounds each to rupees,
    fifty paise up, as CGST Act 2017 s.170 says of tax payable; whether invoices do so is the lab's setting.
    """
    half, whole = tax_on(taxable, _exact(rate) / 2), tax_on(taxable, rate)
    if whole_rupees:
        half, whole = 100 * half_up(Fraction(half, 100)), 100 * half_up(Fraction(whole, 100))
    return GstSplit(half, half, whole)


def _groups(amounts: Sequence[Line], rounding: Rounding, *, inclusive: bool) -> tuple[TaxGroup, ...]:
    """Amounts by category and rate; 19 and 19.0 are one rate."""
    by_tax: defaultdict[tuple[str, Decimal | None], list[int]] = defaultdict(list)
    for amount, rate, category in amounts:
        if type(amount) is not int:
            raise TypeError(f"Amounts are whole minor units, not {amount!r}.")
        by_tax[category, rate].append(amount)
    return tuple(
        TaxGroup(category, rate, *_taxed(given if rounding == Rounding.LINE else [sum(given)], rate, inclusive))
        for (category, rate), given in by_tax.items()
    )


def _taxed(amounts: Sequence[int], rate: Decimal | None, inclusive: bool) -> tuple[int, int]:
    """Taxable amount and tax, each of the amounts rounded by itself."""
    if not inclusive:
        return sum(amounts), sum(tax_on(amount, rate) for amount in amounts)
    net = sum(net_within(amount, rate) for amount in amounts)
    return net, sum(amounts) - net


def _total(lines: Sequence[Line]) -> int:
    return sum(line.amount for line in lines)


def _percent(rate: Exact | None) -> Fraction:
    return _exact(rate or 0) / 100


def _exact(value: Exact) -> Fraction:
    if isinstance(value, float):
        raise TypeError(f"Money is not computed from the float {value!r}; use Decimal.")
    return Fraction(value)
