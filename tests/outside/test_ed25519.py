"""Ed25519 against RFC 8032 s.7.1, in vectors/ed25519.json; the library is the one that signs the ledger's heads."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from labcases.custody import signing

VECTORS = Path(__file__).parent / "vectors" / "ed25519.json"
CASES = json.loads(VECTORS.read_text(encoding="utf-8"))["cases"]


def holds(case: dict[str, Any]) -> bool:
    try:
        public = Ed25519PublicKey.from_public_bytes(bytes.fromhex(case["public"]))
        public.verify(bytes.fromhex(case["signature"]), bytes.fromhex(case["message_hex"]))
    except (InvalidSignature, ValueError):
        return False
    return True


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_published_signatures_are_judged_as_published(case: dict[str, Any]) -> None:
    assert holds(case) is case["valid"]


@pytest.mark.parametrize("case", [c for c in CASES if c["valid"] and c.get("secret")], ids=lambda case: case["name"])
def test_the_lab_signs_as_published(case: dict[str, Any], tmp_path: Path) -> None:
    """The signing key is the 32-byte secret of the RFC, in hex; signatures are deterministic."""
    key = signing.load_key(tmp_path, supplied=case["secret"])
    assert signing.public_hex(key) == case["public"]
    assert key.sign(bytes.fromhex(case["message_hex"])).hex() == case["signature"]
