"""Passwords, recovery keys and unlock patterns: sealed with a key of their case, that key wrapped by the lab's.

Both layers are AES-256-GCM (NIST SP 800-38D) with a random 96-bit nonce in front. What a box belongs to is its
associated data, so that a row copied to another case does not open there. Deleting a case's wrapped key makes every
secret of the case unreadable for good; a new key of the lab only wraps the small keys anew.

>>> lab, case = new_key(), new_key()
>>> wrapped = wrap(case, lab, case_code="2600417D")
>>> box = seal(Plain("tide-pool-7"), unwrap(wrapped, lab, case_code="2600417D"), case_code="2600417D", ref="a1")
>>> open_box(box, case, case_code="2600417D", ref="a1").reveal()
'tide-pool-7'
>>> open_box(box, case, case_code="2600418B", ref="a1")
Traceback (most recent call last):
...
labcases.cases.secrets.DoesNotOpen: This secret does not open with the key of its case.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Sequence
from pathlib import Path

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from labcases.core import keyfiles
from labcases.core.refused import Refused

KEY_BYTES = 32
NONCE_BYTES = 12
KEY_FILE = "secrets-key"
NEXT_KEY_FILE = "secrets-key-next"  # lies there only while the lab's key is being replaced


class DoesNotOpen(Refused):
    """A box or a wrapped key was changed, or belongs elsewhere."""


class KeyTrouble(Refused):
    """The lab's key is missing, malformed, or not the one this database was sealed with."""

    status = 503


class Plain:
    """A secret in clear, for as long as it is needed. It says nothing of itself in logs and error pages."""

    __slots__ = ("_text",)

    def __init__(self, text: str) -> None:
        self._text = text

    def __repr__(self) -> str:
        return "<hidden>"

    __str__ = __repr__

    def __bool__(self) -> bool:
        return bool(self._text)

    def reveal(self) -> str:
        """The text itself. Never keep, log or pass it on."""
        return self._text


def new_key() -> bytes:
    return os.urandom(KEY_BYTES)


def fingerprint(key: bytes) -> str:
    """Which key it is, without telling the key: 32 hexadecimal digits."""
    return hashlib.sha256(b"labcases secrets key v1" + key).hexdigest()[:32]


def wrap(case_key: bytes, lab_key: bytes, *, case_code: str) -> bytes:
    """The key of a case, readable with the lab's key only."""
    return _close(case_key, lab_key, f"case key v1|{case_code}")


def unwrap(wrapped: bytes, lab_key: bytes, *, case_code: str) -> bytes:
    """The key of a case. Raises DoesNotOpen."""
    return _open(wrapped, lab_key, f"case key v1|{case_code}", "The key of this case does not open with the lab's key.")


def seal(secret: Plain, case_key: bytes, *, case_code: str, ref: str) -> bytes:
    """A secret, readable with the key of its case only; ``ref`` is the secret's own name."""
    return _close(secret.reveal().encode(), case_key, f"secret v1|{case_code}|{ref}")


def open_box(box: bytes, case_key: bytes, *, case_code: str, ref: str) -> Plain:
    """The secret in clear. Raises DoesNotOpen."""
    said = "This secret does not open with the key of its case."
    return Plain(_open(box, case_key, f"secret v1|{case_code}|{ref}", said).decode())


def _close(content: bytes, key: bytes, belongs_to: str) -> bytes:
    nonce = os.urandom(NONCE_BYTES)
    return nonce + AESGCM(key).encrypt(nonce, content, belongs_to.encode())


def _open(box: bytes, key: bytes, belongs_to: str, said: str) -> bytes:
    try:
        return AESGCM(key).decrypt(box[:NONCE_BYTES], box[NONCE_BYTES:], belongs_to.encode())
    except (InvalidTag, ValueError):
        raise DoesNotOpen(
            said,
            why="It was changed outside this program, or copied from elsewhere.",
            mend="Ask the customer again, and tell whoever keeps the server.",
        ) from None


# --- the lab's key ----------------------------------------------------------------------------------------------------


def ring(folder: Path, *, supplied: Sequence[str] = ()) -> list[bytes]:
    """Every key of the lab that is at hand, the one meant for now first: supplied ones, or else those on file.

    ``supplied`` are hexadecimal digits from the settings; empty ones count for nothing. Raises KeyTrouble.
    """
    if any(supplied):
        return [_key(text) for text in supplied if text]
    files = (folder / KEY_FILE, folder / NEXT_KEY_FILE)
    return [_key(path.read_text(encoding="ascii").strip()) for path in files if path.exists()]


def chosen(keys: Sequence[bytes], wanted: str) -> bytes:
    """The key with this fingerprint. Raises KeyTrouble: another one is never used."""
    for key in keys:
        if fingerprint(key) == wanted:
            return key
    if not keys:
        said = "The lab's key for secrets is missing: no secret can be read or kept."
    else:
        said = "The lab's key for secrets is not the one this database was sealed with."
    raise KeyTrouble(said, mend="Put the key back from its backup: the file secrets-key, or the setting SECRETS_KEY.")


def make_key_file(folder: Path) -> bytes:
    """A first key of an installation that was given none."""
    key = new_key()
    keyfiles.write(folder / KEY_FILE, key.hex(), sure=True)
    return key


def make_next_key_file(folder: Path) -> bytes:
    """The key that is to replace the present one, beside it until every wrapped key is wrapped anew."""
    key = new_key()
    keyfiles.write(folder / NEXT_KEY_FILE, key.hex(), sure=True)
    return key


def tidy_key_files(folder: Path, wanted: str) -> None:
    """After a replacement (also one that a power cut interrupted): only the key that is in use stays."""
    present, coming = folder / KEY_FILE, folder / NEXT_KEY_FILE
    if not coming.exists():
        return
    if fingerprint(_key(coming.read_text(encoding="ascii").strip())) == wanted:
        os.replace(coming, present)
    else:
        coming.unlink()


def _key(text: str) -> bytes:
    try:
        key = bytes.fromhex(text)
    except ValueError:
        key = b""
    if len(key) != KEY_BYTES:
        raise KeyTrouble("The lab's key for secrets is not 64 hexadecimal digits.", mend="Put the right one in place.")
    return key
