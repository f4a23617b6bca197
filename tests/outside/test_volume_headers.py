"""File-system headers against the tools that made them; the vectors name the tool and what said each value."""

from __future__ import annotations

import base64
import gzip
import json
from pathlib import Path
from typing import Any

import pytest

from labcases.media.volumes import read_volume

CASES: list[dict[str, Any]] = json.loads(
    (Path(__file__).parent / "vectors" / "volume_headers.json").read_text(encoding="utf-8")
)["cases"]
SUMMED = [case for case in CASES if case["kind"] in ("exFAT", "ext4", "XFS", "Btrfs", "APFS")]
COVERED = {"exFAT": 200, "ext4": 1024 + 400, "XFS": 300, "Btrfs": 65536 + 2000, "APFS": 2000}


def head(case: dict[str, Any]) -> bytes:
    return gzip.decompress(base64.b64decode(case["head_gzip_base64"]))


def label(case: dict[str, Any]) -> str:
    return f"{case['kind']} by {case['tool']}"


@pytest.mark.parametrize("case", CASES, ids=label)
def test_a_volume_is_recognised_with_its_sizes_and_its_id(case: dict[str, Any]) -> None:
    found = read_volume(head(case))
    assert found is not None
    assert found.kind == case["kind"]
    wanted = {key: value for key, value in case["expect"].items() if key != "by"}
    assert {key: getattr(found, key) for key in wanted} == wanted


@pytest.mark.parametrize("case", CASES, ids=label)
def test_a_fresh_volume_has_nothing_to_warn_of(case: dict[str, Any]) -> None:
    found = read_volume(head(case))
    assert found is not None
    assert found.warnings == ()


@pytest.mark.parametrize("case", SUMMED, ids=label)
def test_a_changed_byte_breaks_the_checksum(case: dict[str, Any]) -> None:
    damaged = bytearray(head(case))
    damaged[COVERED[case["kind"]]] ^= 1
    found = read_volume(bytes(damaged))
    assert found is not None
    assert any("checksum" in warning for warning in found.warnings)
