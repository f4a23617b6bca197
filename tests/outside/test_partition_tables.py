"""Partition tables against sfdisk, fdisk and sgdisk: stored images, and fresh ones compared live with sfdisk."""

from __future__ import annotations

import base64
import gzip
import json
import os
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labcases.media.partitions import Layout, Part, read_partitions

CASES: list[dict[str, Any]] = json.loads(
    (Path(__file__).parent / "vectors" / "mbr_gpt.json").read_text(encoding="utf-8")
)["cases"]
GPT = [case for case in CASES if "partitions" in case["expect"]]
MBR = [case for case in CASES if case["expect"]["table"] == "dos"]
NONE = [case for case in CASES if case["expect"]["table"].startswith("none")]
CONTAINERS = ("5", "f", "85")


class Image:
    """A clone of which only some chunks are not blank."""

    def __init__(self, case: dict[str, Any]) -> None:
        self.sector_bytes, self.total = case["sector_size"], case["total_sectors"]
        self.sectors: dict[int, bytes] = {}
        for chunk in case["chunks"]:
            data = gzip.decompress(base64.b64decode(chunk["gzip_base64"]))
            for index in range(chunk["count"]):
                part = data[index * self.sector_bytes : (index + 1) * self.sector_bytes]
                self.sectors[chunk["lba"] + index] = part

    def read_at(self, lba: int, count: int) -> bytes:
        blank = bytes(self.sector_bytes)
        return b"".join(self.sectors.get(lba + index, blank) for index in range(count))

    def layout(self) -> Layout:
        head, tail = self.read_at(0, 34), self.read_at(self.total - 34, 34)
        return read_partitions(head, tail, self.sector_bytes, self.total, self.read_at)


def as_gpt(part: Part) -> dict[str, Any]:
    return {
        "index": part.number,
        "start": part.first_lba,
        "end_inclusive": part.last_lba,
        "sectors": part.sectors,
        "type_guid": part.type_code,
        "part_guid": part.part_id,
        "attributes_hex": f"{part.attributes:016x}",
        "name": part.name,
    }


def as_sfdisk(part: Part) -> dict[str, Any]:
    row = {"start": part.first_lba, "size": part.sectors, "type": part.type_code}
    return row | ({"bootable": True} if part.active else {})


@pytest.mark.parametrize("case", GPT, ids=lambda case: case["name"])
def test_a_gpt_lists_the_partitions_the_tools_list(case: dict[str, Any]) -> None:
    layout = Image(case).layout()
    assert (layout.kind, layout.used, layout.status) == ("gpt", case["expect"]["used_header"], case["expect"]["status"])
    assert [as_gpt(part) for part in layout.parts] == case["expect"]["partitions"]


@pytest.mark.parametrize("case", GPT, ids=lambda case: case["name"])
def test_damage_is_described_and_a_whole_table_has_no_warnings(case: dict[str, Any]) -> None:
    warnings = Image(case).layout().warnings
    assert bool(warnings) == (case["expect"]["status"] != "ok")


@pytest.mark.parametrize("case", GPT, ids=lambda case: case["name"])
def test_a_gpt_names_its_disk_as_the_headers_do(case: dict[str, Any]) -> None:
    headers = case["headers"]
    assert Image(case).layout().disk_id == headers[case["expect"]["used_header"]]["disk_guid"]


@pytest.mark.parametrize("case", MBR, ids=lambda case: case["name"])
def test_an_mbr_lists_the_partitions_sfdisk_lists(case: dict[str, Any]) -> None:
    wanted = case["expect"].get("partitions_as_sfdisk") or case["expect"]["partitions_before_damage"]
    layout = Image(case).layout()
    assert (layout.kind, layout.status) == ("mbr", case["expect"]["status"])
    assert [as_sfdisk(part) for part in layout.parts] == [row for row in wanted if row["type"] not in CONTAINERS]
    assert layout.ebr_lbas == case["expect"].get("ebr_lbas", [])


@pytest.mark.parametrize("case", NONE, ids=lambda case: case["name"])
def test_without_a_usable_table_there_are_no_partitions(case: dict[str, Any]) -> None:
    layout = Image(case).layout()
    assert (layout.kind, layout.status, layout.parts) == ("none", case["expect"]["status"], [])
    assert layout.warnings


def test_partitions_under_two_damaged_headers_are_set_beside_as_doubtful() -> None:
    (case,) = [case for case in CASES if case["name"] == "gpt-both-headers-crc"]
    layout = Image(case).layout()
    assert [part.first_lba for part in layout.others] == [2048, 22528, 124928]


def test_a_disk_of_large_sectors_read_as_small_ones_says_so() -> None:
    (case,) = [case for case in CASES if case["name"] == "gpt-4Kn-two"]
    image = Image(case)
    layout = read_partitions(image.read_at(0, 34), sector_bytes=512)
    assert (layout.kind, layout.likely_sector_bytes) == ("none", 4096)


def sfdisk() -> str:
    """The tool; without it the live comparison is skipped, and on CI that is a failure."""
    tool = shutil.which("sfdisk") or shutil.which("sfdisk", path="/usr/sbin:/sbin")
    if not tool:
        if os.environ.get("CI"):
            pytest.fail("sfdisk is not installed (Debian package: fdisk)")
        pytest.skip("sfdisk is not installed")
    return tool


TOTAL = 400_000
SIZES = st.lists(st.integers(1, 30), min_size=1, max_size=9)  # in units of 1 MiB, so that all fit


def made_by_sfdisk(script: str, path: Path) -> tuple[dict[str, Any], Callable[[int, int], bytes]]:
    """Make an image from an sfdisk script; what ``sfdisk --json`` says of it, and how to read it."""
    path.unlink(missing_ok=True)
    with path.open("wb") as file:
        file.truncate(TOTAL * 512)
    subprocess.run([sfdisk(), "--quiet", str(path)], input=script, text=True, check=True, capture_output=True)
    said = subprocess.run([sfdisk(), "--json", str(path)], text=True, check=True, capture_output=True).stdout

    def read_at(lba: int, count: int) -> bytes:
        with path.open("rb") as file:
            file.seek(lba * 512)
            return file.read(count * 512)

    return json.loads(said)["partitiontable"], read_at


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(sizes=SIZES, label=st.text("abcXYZ ü", max_size=12))
def test_fresh_gpts_read_as_sfdisk_reads_them(sizes: list[int], label: str, tmp_path: Path) -> None:
    script = "label: gpt\n" + "".join(f'size={size}MiB, name="{label.strip()}"\n' for size in sizes)
    table, read_at = made_by_sfdisk(script, tmp_path / "disk")
    layout = read_partitions(read_at(0, 34), read_at(TOTAL - 33, 33), 512, TOTAL)
    said = [(row["start"], row["size"], row["type"], row["uuid"], row.get("name", "")) for row in table["partitions"]]
    assert [(p.first_lba, p.sectors, p.type_code, p.part_id, p.name) for p in layout.parts] == said
    assert (layout.disk_id, layout.status, layout.warnings) == (table["id"], "ok", [])


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(primaries=st.integers(0, 3), sizes=SIZES, kind=st.sampled_from(["7", "83", "c", "82"]))
def test_fresh_mbrs_with_chains_read_as_sfdisk_reads_them(
    primaries: int, sizes: list[int], kind: str, tmp_path: Path
) -> None:
    rows = [f"size=2MiB, type={kind}" for _ in range(primaries)] + ["type=5"]
    script = "label: dos\n" + "\n".join(rows + [f"size={size}MiB, type={kind}" for size in sizes[:5]]) + "\n"
    table, read_at = made_by_sfdisk(script, tmp_path / "disk")
    layout = read_partitions(read_at(0, 1), b"", 512, TOTAL, read_at)
    said = [(row["start"], row["size"], row["type"]) for row in table["partitions"] if row["type"] not in CONTAINERS]
    assert [(p.first_lba, p.sectors, p.type_code) for p in layout.parts] == said
    assert (f"0x{layout.disk_id}", layout.status, layout.warnings) == (table["id"], "ok", [])
    assert [p.number for p in layout.parts if p.number > 4] == list(range(5, 5 + len(sizes[:5])))
