"""Private files: the same bytes are one file, damage is noticed, half a file is never seen."""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings

from labcases.core import vault

# SHA-256 of "abc": FIPS 180-4, example one.
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path) -> Iterator[Path]:
    vault.open_at(tmp_path)
    yield tmp_path
    vault.open_at(settings.DATA_DIR / "vault")


def _files(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


def test_a_file_is_named_by_what_it_contains() -> None:
    assert vault.put(b"abc") == ABC
    assert vault.get(ABC) == b"abc"


def test_the_same_bytes_twice_are_one_file(folder: Path) -> None:
    assert vault.put(b"abc") == vault.put(b"abc")
    assert len(_files(folder)) == 1


def test_only_the_owner_may_read_it() -> None:
    assert stat.S_IMODE(vault.path(vault.put(b"abc")).stat().st_mode) & 0o077 == 0


def test_damage_is_noticed() -> None:
    vault.path(vault.put(b"abc")).write_bytes(b"abd")
    with pytest.raises(vault.Damaged, match="changed on the disk"):
        vault.get(ABC)


def test_a_missing_file_is_said_to_be_missing() -> None:
    with pytest.raises(FileNotFoundError):
        vault.get(ABC)


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_half_written_file_is_never_seen(step: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, step, full)
    with pytest.raises(OSError, match="No space"):
        vault.put(b"abc")
    assert not vault.path(ABC).exists()
    assert _files(folder) == []


@pytest.mark.parametrize("name", ["", "abc", "../../etc/passwd", ABC.upper(), ABC + "0", f"../{ABC[3:]}"])
def test_a_name_that_is_no_digest_leads_nowhere(name: str) -> None:
    with pytest.raises(ValueError, match="64 hexadecimal"):
        vault.path(name)


def test_an_empty_file_is_a_file() -> None:
    assert vault.get(vault.put(b"")) == b""
    assert vault.put(b"") == hashlib.sha256(b"").hexdigest()
