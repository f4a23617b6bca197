"""The lab's signature under the ledger's head: Ed25519 (RFC 8032), its key outside the database.

A head says how many events there are, the root over all of them and when it was signed. Whoever keeps one can later
be shown, by a consistency proof, that the ledger only grew since.
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from labcases.core import keyfiles
from labcases.custody.chain import canonical

CONTEXT = "ledger head v1"
KEY_FILE = "ledger-key"
LAST_HEAD_FILE = "last-head.json"


class KeyTrouble(Exception):
    """The key is missing, unreadable, or not the one this ledger was begun with."""


@dataclass(frozen=True)
class SignedHead:
    """A head as it is shown and kept: root, signature and public key in hex, ``signed`` in RFC 3339."""

    size: int
    root: str
    signed: str
    signature: str
    key: str

    def as_record(self) -> dict[str, str | int]:
        return {
            "size": self.size,
            "root": self.root,
            "signed": self.signed,
            "signature": self.signature,
            "key": self.key,
        }

    def holds(self) -> bool:
        """Whether the signature is of this head under the key it names."""
        try:
            public = Ed25519PublicKey.from_public_bytes(bytes.fromhex(self.key))
            public.verify(bytes.fromhex(self.signature), message(self.size, self.root, self.signed))
        except (InvalidSignature, ValueError):
            return False
        return True


def message(size: int, root: str, signed: str) -> bytes:
    """The bytes that are signed: canonical JSON (RFC 8785)."""
    return canonical({"context": CONTEXT, "root": root, "signed": signed, "size": size})


def load_key(folder: Path, *, supplied: str = "", make: bool = True) -> Ed25519PrivateKey:
    """The signing key: ``supplied`` (64 hex digits), else the file beside the others, made at first use.

    Raises KeyTrouble when it is unreadable, or missing and may not be made.
    """
    path = folder / KEY_FILE
    if not supplied and not path.exists():
        if not make:
            raise KeyTrouble("The ledger's signing key is missing. Put it back from the backup, or set LEDGER_KEY.")
        keyfiles.write(path, os.urandom(32).hex(), sure=True)
    text = supplied or path.read_text(encoding="ascii").strip()
    try:
        return Ed25519PrivateKey.from_private_bytes(bytes.fromhex(text))
    except ValueError:
        raise KeyTrouble("The ledger's signing key is not 64 hexadecimal digits.") from None


def public_hex(key: Ed25519PrivateKey) -> str:
    """The public key, 64 hex digits: stands on papers and on a public page."""
    return key.public_key().public_bytes_raw().hex()


def sign(key: Ed25519PrivateKey, *, size: int, root: str, signed: str) -> SignedHead:
    """A signed head."""
    signature = key.sign(message(size, root, signed)).hex()
    return SignedHead(size, root, signed, signature, public_hex(key))


def keep_beside_key(folder: Path, head: SignedHead) -> None:
    """Write the last head beside the key, so that a database rolled back to yesterday is noticed.

    A head that is older than the one that lies there is not written: commits can end out of order.
    """
    if (last := last_beside_key(folder)) and last.size >= head.size:
        return
    keyfiles.write(folder / LAST_HEAD_FILE, json.dumps(head.as_record()))


def last_beside_key(folder: Path) -> SignedHead | None:
    """The head that lies beside the key; None when there is none (a new lab) or it cannot be read."""
    try:
        said = json.loads((folder / LAST_HEAD_FILE).read_text(encoding="ascii"))
        return SignedHead(**said)
    except (OSError, ValueError, TypeError):
        return None
