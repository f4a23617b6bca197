"""The signed head and the key that lives outside the database."""

from __future__ import annotations

import json
import stat
from dataclasses import replace
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from labcases.custody import signing
from labcases.custody.signing import KeyTrouble

SEED = "11" * 32
KEY = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(SEED))
SIGNED = "2026-03-02T12:00:00.000000Z"
HEAD = signing.sign(KEY, size=7, root="ab" * 32, signed=SIGNED)


def test_what_is_signed_is_canonical_and_says_what_it_is() -> None:
    expected = f'{{"context":"ledger head v1","root":"{"ab" * 32}","signed":"{SIGNED}","size":7}}'
    assert signing.message(7, "ab" * 32, SIGNED) == expected.encode()


def test_a_signed_head_holds() -> None:
    assert HEAD.holds()
    assert HEAD.key == signing.public_hex(KEY)


@pytest.mark.parametrize(
    "change",
    [
        {"size": 8},
        {"root": "ac" * 32},
        {"signed": "2026-03-03T12:00:00.000000Z"},
        {"signature": "00" * 64},
        {"signature": "no hex"},
        {"key": signing.public_hex(Ed25519PrivateKey.from_private_bytes(b"2" * 32))},
        {"key": "12"},
    ],
    ids=lambda change: "-".join(change),
)
def test_a_head_with_anything_changed_does_not_hold(change: dict) -> None:
    assert not replace(HEAD, **change).holds()


def test_the_key_is_made_once_and_only_its_owner_may_read_it(tmp_path: Path) -> None:
    first, again = signing.load_key(tmp_path), signing.load_key(tmp_path)
    assert signing.public_hex(first) == signing.public_hex(again)
    assert stat.S_IMODE((tmp_path / signing.KEY_FILE).stat().st_mode) == 0o600


def test_a_key_that_must_be_there_and_is_not_is_not_made_anew(tmp_path: Path) -> None:
    with pytest.raises(KeyTrouble, match="missing"):
        signing.load_key(tmp_path, make=False)
    assert not (tmp_path / signing.KEY_FILE).exists()


def test_a_key_from_the_environment_goes_before_the_file(tmp_path: Path) -> None:
    signing.load_key(tmp_path)
    assert signing.public_hex(signing.load_key(tmp_path, supplied=SEED)) == signing.public_hex(KEY)


@pytest.mark.parametrize("text", ["zz", "11" * 31, ""])
def test_a_key_that_is_no_key_is_said_to_be_none(tmp_path: Path, text: str) -> None:
    (tmp_path / signing.KEY_FILE).write_text(text)
    with pytest.raises(KeyTrouble, match="64 hexadecimal digits"):
        signing.load_key(tmp_path)


def test_the_last_head_lies_beside_the_key(tmp_path: Path) -> None:
    assert signing.last_beside_key(tmp_path) is None
    signing.keep_beside_key(tmp_path, HEAD)
    assert signing.last_beside_key(tmp_path) == HEAD


def test_an_older_head_does_not_write_over_a_newer_one(tmp_path: Path) -> None:
    newer = signing.sign(KEY, size=8, root="cd" * 32, signed=SIGNED)
    signing.keep_beside_key(tmp_path, newer)
    signing.keep_beside_key(tmp_path, HEAD)
    assert signing.last_beside_key(tmp_path) == newer


@pytest.mark.parametrize("text", ["", "{", "[]", json.dumps({"size": 1})])
def test_a_head_beside_the_key_that_cannot_be_read_is_none(tmp_path: Path, text: str) -> None:
    (tmp_path / signing.LAST_HEAD_FILE).write_text(text)
    assert signing.last_beside_key(tmp_path) is None
