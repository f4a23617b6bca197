"""How a signed head is told in a mail: one line for people, and all of it for a program.

>>> head = {"size": 1204, "root": "9c" * 32, "signed": "2026-03-02T12:00:00Z", "signature": "00" * 64, "key": "11" * 32}
>>> closing(head, "https://lab.example.com/custody/public-key/")[:62]
'Our custody ledger holds 1,204 events, root 9c9c9c9c9c9c9c9c9c'
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

HEADER = "Ledger-Head"


def closing(head: Mapping[str, Any], address: str) -> str:
    """The short line at the end of a customer's mail. Whoever keeps the mail can have the ledger checked by it."""
    return f"Our custody ledger holds {head['size']:,} events, root {head['root']}. Check it at {address}"


def header(head: Mapping[str, Any]) -> str:
    """The whole signed head as JSON with blanks, so that it can be folded (RFC 5322 s.2.2.3)."""
    return json.dumps(dict(head), separators=(", ", ": "))


def to_witness(head: Mapping[str, Any], lab: str, address: str, page: str) -> str:
    """The body of the mail to a witness: why it came, the head line by line, and how it is used."""
    return f"""You are named as a witness of the custody ledger of {lab}. Please keep this mail.

Events: {head["size"]}
Root: {head["root"]}
Signed: {head["signed"]}
Signature, Ed25519: {head["signature"]}
Public key: {head["key"]}

The ledger of any later day must have grown from this one. To see whether it has, save this mail as a file, and save
{address}?format=json&since={head["size"]}
as another. Choose both at
{page}
which checks them inside your browser and sends nothing.

This mail says nothing of any case or person.
"""
