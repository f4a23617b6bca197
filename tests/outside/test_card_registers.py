"""CID and CSD registers against Debian's mmc-utils and, for CRC7, crccheck; the vectors say what read each of them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from labcases.media.cards import NotARegister, crc7, read_cid, read_csd

CASES: list[dict[str, Any]] = json.loads(
    (Path(__file__).parent / "vectors" / "sd_cid_csd.json").read_text(encoding="utf-8")
)["cases"]
REGISTERS = [case for case in CASES if "register" in case and "reject" not in case["expect"]]
REFUSED = [case for case in CASES if "register" in case and "reject" in case["expect"]]
CHECKS = [case for case in CASES if "crc7_of_hex" in case]
OUR_NAMES = {"capacity_512_sectors": "sectors", "class": "card_class"}


@pytest.mark.parametrize("case", REGISTERS, ids=lambda case: case["hex"])
def test_a_register_reads_as_the_tool_reads_it(case: dict[str, Any]) -> None:
    record = {"CID": read_cid, "CSD": read_csd}[case["register"]](bytes.fromhex(case["hex"]))
    assert {key: getattr(record, OUR_NAMES.get(key, key)) for key in case["expect"]} == case["expect"]


@pytest.mark.parametrize("case", REFUSED, ids=lambda case: case["hex"])
def test_an_unknown_structure_is_refused(case: dict[str, Any]) -> None:
    with pytest.raises(NotARegister, match="structure 3"):
        read_csd(bytes.fromhex(case["hex"]))


@pytest.mark.parametrize("case", CHECKS, ids=lambda case: case["crc7_of_hex"])
def test_the_check_is_that_of_the_worked_examples(case: dict[str, Any]) -> None:
    assert crc7(bytes.fromhex(case["crc7_of_hex"])) == case["crc7"]
