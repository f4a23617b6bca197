"""Two records of one customer side by side, and what the kept one says afterwards.

>>> one = {"name": "Bartola Kwe", "phone": "+441184960743", "email": ""}
>>> other = {"name": "B. Kwe", "phone": "+441184960743", "email": "kwe@example.com"}
>>> [(line.name, line.mark, line.first) for line in compared(one, other, ("name", "phone", "email"))]
[('name', 'different', 'kept'), ('phone', 'same', 'kept'), ('email', 'near', 'gone')]
>>> filled(one, other, {"name": "kept", "email": "gone"})
{'email': ['', 'kwe@example.com']}
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

KEPT, GONE, BOTH = "kept", "gone", "both"
SAID = {"same": "the same", "near": "only in one", "different": "differs", "unknown": "in neither"}


@dataclass(frozen=True)
class Compared:
    """One field of both records; ``mark`` is same, near (only one has it), different or unknown (neither has)."""

    name: str
    kept: str
    gone: str

    @property
    def mark(self) -> str:
        if not self.kept and not self.gone:
            return "unknown"
        if self.kept == self.gone:
            return "same"
        return "different" if self.kept and self.gone else "near"

    @property
    def words(self) -> str:
        return SAID[self.mark]

    @property
    def to_choose(self) -> bool:
        return self.mark in ("near", "different")

    @property
    def first(self) -> str:
        """What is proposed: what the kept record says, and what only the other one knows."""
        return KEPT if self.kept else GONE


def compared(kept: Mapping[str, str], gone: Mapping[str, str], fields: Sequence[str]) -> list[Compared]:
    return [Compared(name, kept[name], gone[name]) for name in fields]


def filled(kept: Mapping[str, str], gone: Mapping[str, str], chosen: Mapping[str, str]) -> dict[str, list[str]]:
    """What changes in the kept record: field → [what stood there, what stands there afterwards]."""
    after = {name: _after(kept[name], gone[name], choice) for name, choice in chosen.items()}
    return {name: [kept[name], value] for name, value in after.items() if value != kept[name]}


def _after(kept: str, gone: str, choice: str) -> str:
    if choice == BOTH:
        return "\n".join(part for part in (kept, gone) if part)
    return gone if choice == GONE else kept
