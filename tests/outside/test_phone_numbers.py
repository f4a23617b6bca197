"""Phone numbers against worked examples of E.164 and RFC 3966; the vectors name who worked them out."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from labcases.people import phone

CASES: list[dict[str, Any]] = json.loads(
    (Path(__file__).parent / "vectors" / "phone_e164.json").read_text(encoding="utf-8")
)["cases"]
READ = [case for case in CASES if case.get("possible")]
WITHOUT_EXTENSION = [case for case in READ if not case["extension"]]  # E.164 has no place for one
REFUSED = [case for case in CASES if not case.get("possible")]


@pytest.mark.parametrize("case", READ, ids=lambda case: case["input"])
def test_a_number_as_people_write_it_is_read_as_e164(case):
    assert phone.read(case["input"], case["region"]) == case["e164"]


@pytest.mark.parametrize("case", WITHOUT_EXTENSION, ids=lambda case: case["input"])
def test_a_number_is_shown_as_people_of_its_country_and_of_another_write_it(case):
    assert phone.shown(case["e164"], case["region_of_number"]) == case["national"]
    assert phone.shown(case["e164"], "AQ") == case["international"]


@pytest.mark.parametrize("case", REFUSED, ids=lambda case: case["input"])
def test_what_is_no_possible_number_is_refused(case):
    with pytest.raises(phone.NotAPhone):
        phone.read(case["input"], case["region"])
