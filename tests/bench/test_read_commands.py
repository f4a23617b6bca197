"""``read-id`` and ``read-layout``: the same findings as text or JSON, sentences instead of tracebacks."""

from __future__ import annotations

import io
import json
from pathlib import Path
from types import SimpleNamespace

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from labcases.media.findings import LOCKED
from tests.media.test_identify import made

TYPE_OF_DATA = 0x83


def run(command: str, *args: str) -> str:
    out = io.StringIO()
    call_command(command, *args, stdout=out)
    return out.getvalue()


def piped(monkeypatch: pytest.MonkeyPatch, data: bytes) -> None:
    monkeypatch.setattr("sys.stdin", SimpleNamespace(buffer=io.BytesIO(data)))


def table(*parts: tuple[int, int], sectors: int = 4096) -> bytes:
    """An image with an MBR of these partitions as (first, sectors)."""
    image = bytearray(sectors * 512)
    for slot, (first, count) in enumerate(parts):
        entry = bytes([0, 0, 0, 0, TYPE_OF_DATA, 0, 0, 0]) + first.to_bytes(4, "little") + count.to_bytes(4, "little")
        image[446 + 16 * slot : 462 + 16 * slot] = entry
    image[510:512] = b"\x55\xaa"
    return bytes(image)


def test_a_page_in_a_file_is_said(tmp_path: Path) -> None:
    (tmp_path / "page").write_bytes(made({128: 0x0007}))
    said = run("read_id", str(tmp_path / "page"))
    assert "BQ5-0000419" in said
    assert f"! {LOCKED}" in said


def test_a_piped_listing_gives_the_same_as_json(monkeypatch: pytest.MonkeyPatch) -> None:
    piped(monkeypatch, made().hex(" ").encode())
    said = json.loads(run("read_id", "-", "--json"))
    assert (said["serial"], said["sectors"], said["checksum_ok"]) == ("BQ5-0000419", 976_773_168, True)


@pytest.mark.parametrize("data", [b"", b"\0" * 512, b"\xff" * 512, b"hello", made()[:300], b"\x80" * 300_000])
def test_what_is_no_page_is_said_in_a_sentence(monkeypatch: pytest.MonkeyPatch, data: bytes) -> None:
    piped(monkeypatch, data)
    with pytest.raises(CommandError, match=r"^[A-Z].*\.$") as refused:
        run("read_id", "-")
    assert refused.value.returncode == 1


@pytest.mark.parametrize("command", ["read_id", "read_layout"])
def test_a_file_that_is_not_there_is_said(command: str, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="cannot be read: No such file or directory"):
        run(command, str(tmp_path / "gone"))


def test_partitions_of_an_image_are_listed(tmp_path: Path) -> None:
    (tmp_path / "image").write_bytes(table((64, 1000), (2048, 2048)))
    said = run("read_layout", str(tmp_path / "image"))
    assert "1: sectors 64 to 1,063, 512.0 kB (500.0 KiB)" in said
    assert "2: sectors 2,048 to 4,095, 1.0 MB (1.0 MiB)" in said


def test_a_partition_past_the_end_of_the_clone_is_warned_of(tmp_path: Path) -> None:
    (tmp_path / "image").write_bytes(table((64, 9_000)))
    assert "! Partition 1 ends at sector 9063, past the medium's end of 4096." in run(
        "read_layout", str(tmp_path / "image")
    )


def test_a_layout_can_be_piped_and_given_as_json(monkeypatch: pytest.MonkeyPatch) -> None:
    piped(monkeypatch, table((64, 1000)))
    said = json.loads(run("read_layout", "-", "--json"))
    assert (said["kind"], said["parts"][0]["sectors"], said["total_sectors"]) == ("mbr", 1000, 4096)


@pytest.mark.parametrize("size", ["0", "-512", "513"])
def test_an_impossible_sector_size_is_said(tmp_path: Path, size: str) -> None:
    (tmp_path / "image").write_bytes(table((64, 1000)))
    with pytest.raises(CommandError, match="are not known; give 512 or 4096"):
        run("read_layout", str(tmp_path / "image"), f"--sector-bytes={size}")
