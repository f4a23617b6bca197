"""Check characters against ISO/IEC 7064 as python-stdnum implements it.

Sources: python-stdnum 2.2, module stdnum.iso7064.mod_37_36, an implementation independent of ours; vectors/iso7064.json
made with it. The text of the standard itself was not seen.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from labcases.core import codes

VECTORS = json.loads((Path(__file__).parent / "vectors" / "iso7064.json").read_text(encoding="utf-8"))
CASES = [case for case in VECTORS["cases"] if "mod_37_36" in case]
ANY_BODY = st.text("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ", min_size=1, max_size=40)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["body"])
def test_the_vectors_have_our_check_character(case: dict[str, str]) -> None:
    assert codes.check_character(case["body"]) == case["mod_37_36"]
    assert codes.is_valid(case["body"] + case["mod_37_36"])


def test_the_example_that_the_library_publishes() -> None:
    assert codes.check_character("A12425GABC1234002") == "M"  # doctest of stdnum.iso7064.mod_37_36
    assert codes.is_valid("A12425GABC1234002M")


@given(ANY_BODY)
def test_any_body_has_the_check_character_of_the_library(body: str) -> None:
    assert codes.check_character(body) == mod_37_36.calc_check_digit(body)


@given(ANY_BODY)
def test_any_text_is_valid_exactly_when_the_library_says_so(text: str) -> None:
    assert codes.is_valid(text) == (len(text) > 1 and mod_37_36.is_valid(text))


def test_the_library_too_lets_a_rare_swap_of_neighbours_pass() -> None:
    """A property of MOD 37,36 itself: it catches every wrong character, but not quite every swap."""
    assert mod_37_36.is_valid("M1234560")
    assert mod_37_36.is_valid("M1324560")
