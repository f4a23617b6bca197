"""Minor units against ISO 4217 and shares against the method of largest remainders.

Sources: ISO 4217 list one as two independent packages carry it (npm currency-codes 2024-06-25, PyPI iso4217 1.16),
in vectors/iso4217_minor_units.json; PyPI apportionment 1.0, in vectors/largest_remainder.json. That the first of
equal remainders gets the unit is a convention.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from labcases.core.money import allocate, minor_digits

VECTORS = Path(__file__).parent / "vectors"
CURRENCIES = json.loads((VECTORS / "iso4217_minor_units.json").read_text(encoding="utf-8"))["cases"]
SHARES = json.loads((VECTORS / "largest_remainder.json").read_text(encoding="utf-8"))["cases"]


@pytest.mark.parametrize("case", CURRENCIES, ids=lambda case: case["code"])
def test_amounts_have_the_decimals_of_the_standard(case: dict[str, Any]) -> None:
    assert minor_digits(case["code"]) == case["iso4217_minor_units"]


@pytest.mark.parametrize("case", SHARES)
def test_shares_are_those_of_the_independent_library(case: dict[str, Any]) -> None:
    assert allocate(case["total"], case["weights"]) == case["shares"]
