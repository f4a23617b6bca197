"""Canonical JSON against RFC 8785 and against an implementation independent of ours.

Sources: RFC 8785 s.3.2 and Appendix B, as printed there; the test suite its author published; PyPI rfc8785 0.1.4.
vectors/jcs_numbers.json and vectors/jcs_documents.json name the source of each case.
"""

from __future__ import annotations

import json
import math
import struct
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from labcases.custody.chain import NotCanonical, canonical

VECTORS = Path(__file__).parent / "vectors"
NUMBERS = json.loads((VECTORS / "jcs_numbers.json").read_text(encoding="utf-8"))["cases"]
DOCUMENTS = json.loads((VECTORS / "jcs_documents.json").read_text(encoding="utf-8"))["cases"]

ANY_JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inside: st.lists(inside, max_size=5) | st.dictionaries(st.text(max_size=5), inside, max_size=5),
    max_leaves=20,
)


@pytest.mark.parametrize("case", NUMBERS, ids=lambda case: case["ieee754"])
def test_the_numbers_of_appendix_b(case: dict[str, Any]) -> None:
    (number,) = struct.unpack(">d", bytes.fromhex(case["ieee754"]))
    if case.get("error"):
        with pytest.raises(NotCanonical):
            canonical(number)
    else:
        assert canonical(number) == case["json"].encode()


@pytest.mark.parametrize("case", [case for case in DOCUMENTS if "input_json" in case])
def test_the_documents_have_the_published_bytes(case: dict[str, str]) -> None:
    written = canonical(json.loads(case["input_json"]))
    assert written.hex() == case["canonical_utf8_hex"]
    assert sha256(written).hexdigest() == case["sha256"]


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_what_the_rfc_says_must_be_an_error_is_one(number: float) -> None:
    """RFC 8785 s.3.2.2.3: NaN and Infinity MUST cause a compliant implementation to terminate with an error."""
    with pytest.raises(NotCanonical):
        canonical({"n": number})


@given(ANY_JSON)
def test_any_value_has_the_bytes_of_the_independent_implementation(value: Any) -> None:
    assert canonical(value) == rfc8785.dumps(value)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_any_number_has_the_bytes_of_the_independent_implementation(number: float) -> None:
    assert canonical(number) == rfc8785.dumps(number)
    assert float(canonical(number)) == number


@pytest.mark.parametrize("number", [1e-6, 1.5e-6, 1e-7, 1.5e-7, 1e20, 1.5e20, 1e21, 1.5e21, 0.1, 100.0, 5e-324, -1e-7])
def test_where_the_way_of_writing_changes_the_independent_implementation_agrees(number: float) -> None:
    """ECMAScript Number::toString: digits alone below 1e21, a point down to 1e-6, an exponent beyond."""
    assert canonical(number) == rfc8785.dumps(number)
