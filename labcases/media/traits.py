"""The attributes a patient and a donor part are compared by: one plain record for both.

Every attribute may be unknown, and unknown is ``None`` (or an empty tuple): it is never the same as different.
The stockroom's rules name these attributes; what must match for which part is data, not code.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from datetime import date
from typing import Any


@dataclass(frozen=True, slots=True)
class Traits:
    """What is known of a medium or of a part taken from one.

    ``sectors`` counts logical sectors of ``sector_bytes`` bytes. ``heads`` counts the heads fitted and
    ``head_map`` names their positions (0 = lowest). ``head_offsets`` holds one radial offset per fitted head,
    in the units of the family's adaptive data. ``codes`` holds free label codes, (name of the code, value).
    """

    kind: str | None = None
    family: str | None = None
    maker: str | None = None
    model: str | None = None
    serial: str | None = None
    firmware: str | None = None
    interface: str | None = None
    sectors: int | None = None
    sector_bytes: int | None = None
    heads: int | None = None
    head_map: tuple[int, ...] = ()
    heads_alive: tuple[int, ...] = ()
    platters: int | None = None
    preamplifier: str | None = None
    board_number: str | None = None
    board_revision: str | None = None
    main_chip: str | None = None
    motor: str | None = None
    base_casting: str | None = None
    plant: str | None = None
    made: date | None = None
    head_offsets: tuple[float, ...] = ()
    flash_controller: str | None = None
    flash_ids: tuple[str, ...] = ()
    channels: int | None = None
    bridge_number: str | None = None
    encryption_generation: str | None = None
    codes: tuple[tuple[str, str], ...] = field(default=())

    def known(self) -> dict[str, Any]:
        """The attributes that are known, by name."""
        pairs = ((f.name, getattr(self, f.name)) for f in fields(self))
        return {name: value for name, value in pairs if value not in (None, (), "")}

    def code(self, name: str) -> str | None:
        """The value of one free label code, or None."""
        return dict(self.codes).get(name)
