"""IDENTIFY pages against Debian's hdparm: stored decodings, and fresh pages compared live where hdparm is installed."""

from __future__ import annotations

import json
import os
import re
import shutil
import struct
import subprocess
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labcases.media.identify import Identity, NotAnIdentifyPage, read_identify, read_identify_text

CASES: list[dict[str, Any]] = json.loads(
    (Path(__file__).parent / "vectors" / "ata_identify.json").read_text(encoding="utf-8")
)["cases"]
GOOD = [case for case in CASES if "reject" not in case["expect"]]
REFUSED = [case for case in CASES if "reject" in case["expect"]]
CHECKSUM = {"ok": True, "bad": False, "absent": None}


def as_expected(identity: Identity) -> dict[str, Any]:
    """An identity under the vectors' names."""
    smart = "enabled" if identity.smart_enabled else "supported, not enabled" if identity.smart_supported else None
    security = {
        "supported": identity.security_supported,
        "enabled": identity.security_enabled,
        "locked": identity.locked,
        "frozen": identity.frozen,
        "expired": identity.security_expired,
        "enhanced_erase": identity.enhanced_erase,
        "level": identity.security_level,
    }
    return {
        "model": identity.model, "serial": identity.serial, "firmware": identity.firmware, "sectors": identity.sectors,
        "logical_sector": identity.logical_bytes, "physical_sector": identity.physical_bytes,
        "sector0_offset_bytes": identity.alignment_bytes, "form_factor": identity.form_factor,
        "rotation_rpm": identity.rotation_rpm,
        "ssd": None if identity.is_rotating is None else not identity.is_rotating,
        "checksum": {True: "ok", False: "bad", None: "absent"}[identity.checksum_ok], "smart": smart,
        "trim": identity.trim, "sata_gen_current": identity.sata_gen_current,
        "security": security if identity.security_supported else {"supported": False},
        "wwn": identity.wwn, "naa": identity.naa, "oui": identity.oui, "unique_id": identity.unique_id,
        "bytes": identity.capacity_bytes,
    }  # fmt: skip


@pytest.mark.parametrize("case", GOOD, ids=lambda case: case["id"])
def test_a_page_reads_as_the_system_tool_reads_it(case: dict[str, Any]) -> None:
    found = as_expected(read_identify(bytes.fromhex(case["page_hex"])))
    wanted = {key: value for key, value in case["expect"].items() if key != "serial_before_damage"}
    assert {key: found[key] for key in wanted} == wanted


@pytest.mark.parametrize("case", GOOD, ids=lambda case: case["id"])
def test_erase_times_and_master_password_read_as_the_system_tool_reads_them(case: dict[str, Any]) -> None:
    wanted = case["hdparm_decoded"].get("security")
    if wanted is None:
        assert not read_identify(bytes.fromhex(case["page_hex"])).security_supported
        return
    identity = read_identify(bytes.fromhex(case["page_hex"]))
    times = [
        None if minutes is None else str(minutes)
        for minutes in (identity.erase_minutes, identity.enhanced_erase_minutes)
    ]
    assert times == [wanted["erase_min"], wanted["enhanced_erase_min"]]
    assert identity.master_password_id == wanted["master_password_id"]


@pytest.mark.parametrize("case", [case for case in CASES if "words_text" in case], ids=lambda case: case["id"])
def test_the_words_the_system_tool_takes_read_like_the_page(case: dict[str, Any]) -> None:
    assert read_identify_text(case["words_text"]) == read_identify(bytes.fromhex(case["page_hex"]))


@pytest.mark.parametrize("case", REFUSED, ids=lambda case: case["id"])
def test_what_is_no_page_is_refused_with_a_sentence(case: dict[str, Any]) -> None:
    reason = {"truncated": "cut short", "blank": "blank"}[case["expect"]["reject"]]
    with pytest.raises(NotAnIdentifyPage, match=reason):
        read_identify(bytes.fromhex(case["page_hex"]))


def hdparm() -> str:
    """The tool; without it the live comparison is skipped, and on CI that is a failure."""
    tool = shutil.which("hdparm") or shutil.which("hdparm", path="/usr/sbin:/sbin")
    if not tool:
        if os.environ.get("CI"):
            pytest.fail("hdparm is not installed (Debian package: hdparm)")
        pytest.skip("hdparm is not installed")
    return tool


def said_by_hdparm(page: bytes) -> dict[str, Any]:
    """What ``hdparm --Istdin`` prints of a page, the lines this room has a field for."""
    words = " ".join(f"{word:04x}" for word in struct.unpack("<256H", page))
    text = subprocess.run([hdparm(), "--Istdin"], input=words, capture_output=True, text=True, check=True).stdout

    def first(pattern: str) -> str | None:
        found = re.search(pattern, text, re.MULTILINE)
        return found[1].strip() if found else None

    def flag(name: str) -> bool:
        return bool(re.search(rf"^\t(?!not)\t?{name}", text, re.MULTILINE))

    lba48, lba28 = first(r"LBA48 +user addressable sectors: *(\d+)"), first(r"LBA +user addressable sectors: *(\d+)")
    return {
        "model": first(r"Model Number: +(.*)$"),
        "serial": first(r"Serial Number: +(.*)$"),
        "firmware": first(r"Firmware Revision: +(.*)$"),
        "sectors": int(lba48 or lba28 or 0),
        "logical_bytes": int(
            first(r"Logical +Sector size: *(\d+)") or first(r"Logical/Physical Sector size: *(\d+)") or 0
        ),
        "physical_bytes": int(first(r"Physical Sector size: *(\d+)") or 0),
        "wwn": first(r"Logical Unit WWN Device Identifier: ([0-9a-f]{16})"),
        "enabled": flag("enabled"),
        "locked": flag("locked"),
        "frozen": flag("frozen"),
        "checksum_ok": {"correct": True, "incorrect": False, None: None}[first(r"^Checksum: (\w+)")],
    }


def sealed(page: bytearray, integrity: bool) -> bytes:
    page[510:512] = b"\0\0"
    if integrity:
        page[510] = 0xA5
        page[511] = -sum(page) & 0xFF
    return bytes(page)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    name=st.sampled_from([case["id"] for case in GOOD if case["id"] != "P05-lba28-pata"]),
    serial=st.text("ABCXYZ0123456789-", min_size=1, max_size=20),
    sectors=st.integers(2**28, 2**46),
    security=st.integers(0, 63).map(lambda bits: bits | 1),
    exponent=st.integers(0, 3),
    integrity=st.booleans(),
)
def test_fresh_pages_read_as_the_system_tool_reads_them(
    name: str, serial: str, sectors: int, security: int, exponent: int, integrity: bool
) -> None:
    page = bytearray(bytes.fromhex(next(case["page_hex"] for case in GOOD if case["id"] == name)))
    text = serial.ljust(20).encode()
    page[20:40] = b"".join(text[at : at + 2][::-1] for at in range(0, 20, 2))
    page[164] |= 2  # word 82: security is supported, as word 128 will say
    page[200:208] = sectors.to_bytes(8, "little")
    page[256:258] = security.to_bytes(2, "little")
    page[212:214] = (0x6000 | exponent | (0x1000 if name.startswith("P04") else 0)).to_bytes(2, "little")
    fresh = sealed(page, integrity)
    identity, said = read_identify(fresh), said_by_hdparm(fresh)
    ours = {name: getattr(identity, name) for name in said if name != "enabled"} | {
        "enabled": identity.security_enabled
    }
    assert ours == said
