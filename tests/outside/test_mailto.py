"""mailto addresses against RFC 6068 (s.2, s.5, s.6; vectors/mailto.json), decoded by urllib.parse."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pytest

from labcases.updates.mailto import mailto

CASES = json.loads((Path(__file__).parent / "vectors" / "mailto.json").read_text(encoding="utf-8"))["cases"]
PRINTED = [case for case in CASES if "fields" in case]
ENCODE_ONLY = [case for case in CASES if "encode_only" in case]


def made(fields: dict[str, Any]) -> str:
    return mailto(*fields["to"], **{name.replace("-", "_"): text for name, text in fields.items() if name != "to"})


@pytest.mark.parametrize("case", PRINTED, ids=lambda case: case["uri"])
def test_an_address_reads_as_the_rfc_prints_it(case: dict[str, Any]) -> None:
    assert made(case["fields"]) == case["uri"]


@pytest.mark.parametrize("case", ENCODE_ONLY)
def test_what_would_end_a_field_is_escaped_and_comes_back_the_same(case: dict[str, Any]) -> None:
    uri = made(case["encode_only"])
    assert all(escape in uri for escape in case["must_encode"])
    head, _, query = uri.removeprefix("mailto:").partition("?")
    fields = dict(pair.split("=", 1) for pair in query.split("&"))
    assert unquote(head) == case["encode_only"]["to"][0]
    assert {name: unquote(text) for name, text in fields.items()} == {
        name: text for name, text in case["encode_only"].items() if name != "to"
    }


@pytest.mark.parametrize("end", ["\n", "\r", "\r\n"])
def test_every_line_end_is_the_one_of_mail(end: str) -> None:
    assert mailto("desk@lab.example", body=f"one{end}two") == "mailto:desk@lab.example?body=one%0D%0Atwo"


def test_two_cases_at_least_were_read_of_each_kind() -> None:
    assert len(PRINTED) >= 8
    assert ENCODE_ONLY


def test_a_semicolon_ends_no_recipient() -> None:
    """RFC 6068 allows it unescaped; escaped it reads the same everywhere."""
    assert mailto("desk@lab.example", subject="a;b") == "mailto:desk@lab.example?subject=a%3Bb"
