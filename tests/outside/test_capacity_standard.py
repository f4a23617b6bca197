"""Capacities against the counts of IDEMA LBA1-03 and SFF-8447; the vectors say which source prints each."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from labcases.media import capacity


def cases(topic: str) -> list[dict[str, Any]]:
    return json.loads((Path(__file__).parent / "vectors" / f"{topic}.json").read_text(encoding="utf-8"))["cases"]


COUNTS = [case for case in cases("lba_count") if "advertised_gb" in case]


@pytest.mark.parametrize("case", COUNTS, ids=lambda case: f"{case['advertised_gb']}-{case['logical_sector']}")
def test_a_capacity_has_the_sectors_of_the_standard(case: dict[str, Any]) -> None:
    sectors = capacity.sectors_for(case["advertised_gb"], case["logical_sector"])
    assert (sectors, sectors * case["logical_sector"]) == (case["lba_count"], case["bytes"])


@pytest.mark.parametrize("case", COUNTS, ids=lambda case: f"{case['advertised_gb']}-{case['logical_sector']}")
def test_the_sectors_of_the_standard_lead_back_to_the_capacity(case: dict[str, Any]) -> None:
    assert capacity.standard_gigabytes(case["lba_count"], case["logical_sector"]) == case["advertised_gb"]


def test_eight_thousand_gigabytes_still_follow_the_low_rule() -> None:
    (boundary,) = [case for case in cases("lba_count") if "boundary" in case]
    assert capacity.sectors_for(8000) == boundary["low_rule"]
    assert capacity.standard_gigabytes(boundary["high_rule_would_give"]) is None


@pytest.mark.parametrize("case", cases("lba_count_inverse"), ids=lambda case: str(case["sectors"]))
def test_a_count_gives_its_gigabytes_or_none(case: dict[str, Any]) -> None:
    assert capacity.standard_gigabytes(case["sectors"], case["logical_sector"]) == case["advertised_gb"]


def test_a_published_disk_that_fits_no_rule_gets_no_capacity() -> None:
    """A 12 TB disk of 23 440 115 664 sectors: serveraide.com item 15082."""
    assert capacity.standard_gigabytes(23_440_115_664) is None


@pytest.mark.parametrize("case", cases("capacity_units"), ids=lambda case: str(case["sectors"]))
def test_units_stand_side_by_side(case: dict[str, Any]) -> None:
    units = capacity.units(case["sectors"] * case["sector_size"])
    assert units == capacity.Units(
        case["bytes"], case["MB_floor"], case["MiB_floor"], case["GB_floor"], case["GiB_floor"]
    )
