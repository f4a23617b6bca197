"""What stands at the foot of every paper and comes from a room above this one: the key the lab's ledger is signed with.

The room that has it provides it when it starts; until then, and while nothing is recorded, papers say nothing of it.

>>> in_groups("3f9a11c2" * 8)
'3f9a 11c2 3f9a 11c2'
"""

from __future__ import annotations

from collections.abc import Callable

SHORT = 16  # hex digits, 64 bits: enough to compare by eye; the whole key stands where the paper ends


def _none() -> str:
    return ""


_key: Callable[[], str] = _none


def provide(key: Callable[[], str]) -> None:
    """Say where the public key comes from: 64 hex digits, or nothing while there is none."""
    global _key
    _key = key


def ledger_key() -> str:
    """The whole key, hex."""
    return _key()


def in_groups(key: str) -> str:
    """The beginning of a key as people compare it."""
    return " ".join(key[start : start + 4] for start in range(0, min(SHORT, len(key)), 4))
