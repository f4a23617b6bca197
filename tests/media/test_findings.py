"""What a page says, in words for people."""

from __future__ import annotations

import json

import pytest

from labcases.media.findings import FROZEN, LOCKED, NOT_READ, as_json, capacity_said, findings
from labcases.media.identify import read_identify
from labcases.media.reading import read_any
from tests.media.test_identify import made

CARD = "7f51 5850 4c52 3136 1000 c0ff ee01 a5f9"


def test_a_whole_page_gives_its_names_and_its_size() -> None:
    found = findings(read_identify(made()))
    said = dict(found.pairs)
    assert (said["Model"], said["Serial"], said["Firmware"]) == ("BRAMFORD BQ-500", "BQ5-0000419", "1.23")
    assert said["Sectors"] == "976,773,168 of 512 bytes, 500.1 GB (465.7 GiB)"
    assert found.loud == ()
    assert "It has the standard number of sectors for 500 GB." in found.notes


@pytest.mark.parametrize(("security", "loud", "note"), [(0x0007, LOCKED, False), (0x0009, None, True)])
def test_locked_is_loud_and_frozen_is_only_noted(security: int, loud: str | None, note: bool) -> None:
    found = findings(read_identify(made({128: security})))
    assert (LOCKED in found.loud) == (loud == LOCKED)
    assert (FROZEN in found.notes) == note
    assert FROZEN not in found.loud


def test_a_boards_own_answer_is_said_to_be_one() -> None:
    found = findings(read_identify(made(serial="", sectors=0)))
    assert found.loud[0] == NOT_READ
    assert "It gives no serial number." in found.loud


def test_a_count_that_is_none_says_what_is_nearest_and_why() -> None:
    said = capacity_said(976_773_168 - 8_000, 512)
    assert said[0].startswith("976,765,168 sectors are no standard count; the nearest, 500 GB, is 8,000 sectors more.")
    assert any("host-protected" in sentence for sentence in said)


def test_a_sector_size_without_a_rule_is_said_and_no_error() -> None:
    assert capacity_said(1_000_000, 520) == [
        "No rule says how many sectors it should have. The standard counts sectors of 512 or 4096 bytes, not of 520."
    ]


def test_an_unknown_count_says_nothing() -> None:
    assert capacity_said(None, 512) == []


def test_every_kind_of_record_fits_into_json() -> None:
    for given in (made(), CARD, _csd(), _controller()):
        record = read_any(given)
        assert json.loads(json.dumps(as_json(record)))["what"] == findings(record).what


def _csd() -> str:
    return "400e 0032 5b59 0000 edc8 7f80 0a40 4001"


def _controller() -> bytes:
    page = bytearray(4096)
    page[4:24], page[24:64], page[64:72] = b"QN00042".ljust(20), b"CORVANE N1".ljust(40), b"1.0".ljust(8)
    page[0:2], page[516] = b"\xcd\xab", 1
    return bytes(page)
