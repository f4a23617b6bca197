"""File-system headers: those no tool here makes, damage, and that nothing is ever raised."""

from __future__ import annotations

import base64
import gzip
import json
import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.media.checksums import crc32c
from labcases.media.volumes import Volume, read_volume

VECTORS = Path(__file__).parents[1] / "outside" / "vectors" / "volume_headers.json"
HEADS = {
    case["kind"]: gzip.decompress(base64.b64decode(case["head_gzip_base64"]))
    for case in json.loads(VECTORS.read_text(encoding="utf-8"))["cases"]
}


def hfs_plus(blocks: int = 5000, *, clean: bool = True) -> bytes:
    """A volume header by the public technical note on HFS+ (from memory)."""
    header = bytearray(512)
    header[0:2], header[2:4] = b"H+", (4).to_bytes(2, "big")
    header[4:8] = (0x100 if clean else 0).to_bytes(4, "big")
    header[40:44], header[44:48] = (4096).to_bytes(4, "big"), blocks.to_bytes(4, "big")
    header[104:112] = bytes.fromhex("0123456789abcdef")
    return bytes(1024) + bytes(header)


def test_an_hfs_plus_volume_is_recognised() -> None:
    assert read_volume(hfs_plus()) == Volume("HFS+", 5000 * 4096, 4096, None, "0123456789ABCDEF")


def test_a_volume_that_was_not_closed_says_so() -> None:
    found = read_volume(hfs_plus(clean=False))
    assert found is not None
    assert "not closed" in found.warnings[0]


@pytest.mark.skipif(not shutil.which("blkid", path="/usr/sbin:/sbin:/usr/bin"), reason="every Debian has blkid")
def test_the_systems_own_look_agrees_on_hfs_plus(tmp_path: Path) -> None:
    image = tmp_path / "volume"
    image.write_bytes(hfs_plus().ljust(5000 * 4096, b"\0"))
    tool = shutil.which("blkid", path="/usr/sbin:/sbin:/usr/bin") or "blkid"
    said = subprocess.run([tool, "-p", "-o", "export", str(image)], capture_output=True, text=True).stdout
    assert "TYPE=hfsplus" in said


def test_an_encrypted_volume_is_told_by_its_header() -> None:
    sector = bytearray(512)
    sector[3:11], sector[11:13] = b"-FVE-FS-", b"\0\2"
    found = read_volume(bytes(sector))
    assert found is not None
    assert (found.kind, found.encrypted, found.sector_bytes) == ("FVE", True, 512)
    luks = read_volume(HEADS["LUKS2"])
    assert luks is not None
    assert luks.encrypted


def test_a_journal_that_was_not_played_back_is_told() -> None:
    head = bytearray(HEADS["ext4"])
    head[1024 + 96] |= 4
    head[2044:2048] = crc32c(bytes(head[1024:2044]), finish=False).to_bytes(4, "little")
    found = read_volume(bytes(head))
    assert found is not None
    assert found.warnings == ("The journal has changes that were not played back.",)


def test_a_fat_boot_sector_that_differs_from_its_copy_is_told() -> None:
    head = bytearray(HEADS["FAT32"].ljust(7 * 4096, b"\0"))
    head[6 * 512 + 70 if head[11:13] == b"\0\2" else 6 * 4096 + 70] ^= 1
    found = read_volume(bytes(head))
    assert found is not None
    assert found.warnings == ("The boot sector and its copy differ.",)


@pytest.mark.parametrize(
    ("kind", "at", "value"),
    [("ext2", 1024 + 24, 200), ("XFS", 4, 0xFF), ("APFS", 36, 3), ("exFAT", 108, 99), ("NTFS", 11, 7)],
)
def test_impossible_sizes_are_told_and_not_reckoned_with(kind: str, at: int, value: int) -> None:
    head = bytearray(HEADS[kind])
    head[at] = value
    found = read_volume(bytes(head))
    assert found is not None
    assert (found.kind, found.size_bytes) == (kind, None)
    assert "impossible" in found.warnings[0]


@pytest.mark.parametrize(
    "start", [b"", bytes(512), bytes(70_000), b"\xff" * 70_000, b"\xeb\x3c\x90" + bytes(507) + b"\x55\xaa"]
)
def test_where_nothing_is_recognised_nothing_is_said(start: bytes) -> None:
    assert read_volume(start) is None


@given(
    kind=st.sampled_from(sorted(HEADS)),
    length=st.integers(0, 70_000),
    damage=st.binary(max_size=80),
    at=st.integers(0, 2000),
)
def test_no_bytes_raise_anything(kind: str, length: int, damage: bytes, at: int) -> None:
    head = bytearray(HEADS[kind])
    head[at : at + len(damage)] = damage
    found = read_volume(bytes(head[:length]))
    assert found is None or (found.size_bytes or 0) >= 0


@given(st.sampled_from([b"NTFS    ", b"EXFAT   ", b"-FVE-FS-"]), st.binary(min_size=501, max_size=6200))
def test_no_boot_sector_raises_anything(name: bytes, rest: bytes) -> None:
    found = read_volume(b"\xeb\x52\x90" + name + rest)
    assert found is None or found.kind
