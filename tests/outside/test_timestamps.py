"""Moments against RFC 3339.

Sources: RFC 3339 s.5.6 to 5.8, and the date-time cases of JSON-Schema-Test-Suite (draft 2020-12); UTC values and
the order of moments by GNU date 9.1. Each case in vectors/rfc3339.json names its own. A blank for the T, which a
note of s.5.6 leaves open, is refused here: the grammar itself demands the T.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from labcases.core.clock import NoTimestamp, read_rfc3339, rfc3339

CASES = json.loads((Path(__file__).parent / "vectors" / "rfc3339.json").read_text(encoding="utf-8"))["cases"]
TEXTS = [pytest.param(case, id=case["text"]) for case in CASES if "text" in case]
ORDERS = [case for case in CASES if "order" in case]


@pytest.mark.parametrize("case", TEXTS)
def test_a_text_is_a_moment_exactly_when_the_rfc_says_so(case: dict[str, Any]) -> None:
    if case["valid"]:
        read = rfc3339(read_rfc3339(case["text"]))
        assert read[:19] + "Z" == case.get("utc_seconds", "1991-01-01T00:00:00Z")  # the leap second has none
    else:
        with pytest.raises(NoTimestamp):
            read_rfc3339(case["text"])


@pytest.mark.parametrize("case", ORDERS)
def test_moments_are_ordered_across_offsets_and_a_clock_change(case: dict[str, Any]) -> None:
    assert sorted(case["given"], key=read_rfc3339) == case["order"]
    assert [read_rfc3339(text).timestamp() for text in case["order"]] == case["epoch"]
