"""Master boot records: four entries in sector 0, and the chain of extended partitions (EBR) behind them.

An EBR's first entry counts from that EBR, its second (the link to the next) from the first EBR. A chain may loop, lead
outside or be missing: it is followed for ``MOST_LINKS`` links and never twice to one sector.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from .layout import Layout, Part, Supply, geometry_warnings

MOST_LINKS = 128
_ENTRY = struct.Struct("<B3sB3sII")
_TABLE, _ENTRIES, _SIGNATURE = 446, 4, b"\x55\xaa"
_EXTENDED = (0x05, 0x0F, 0x85)
PROTECTIVE = 0xEE


@dataclass(slots=True)
class Entry:
    """One of the four entries of a boot record, as it stands there."""

    slot: int
    status: int
    type_code: int
    first: int
    sectors: int

    @property
    def used(self) -> bool:
        """Whether it names a partition."""
        return self.type_code != 0 and self.sectors != 0

    @property
    def extended(self) -> bool:
        """Whether it is a container of logical partitions, or a link to the next."""
        return self.type_code in _EXTENDED


def signed(sector: bytes) -> bool:
    """Whether the boot signature 55AAh is in its place."""
    return sector[510:512] == _SIGNATURE


def entries(sector: bytes) -> list[Entry]:
    """The four entries of a boot record."""
    return [
        Entry(slot, status, code, first, count)
        for slot, (status, _, code, _, first, count) in enumerate(
            _ENTRY.iter_unpack(sector[_TABLE : _TABLE + _ENTRIES * _ENTRY.size]), start=1
        )
    ]


def plausible(found: list[Entry], *, strict: bool = False) -> bool:
    """Whether these are partition entries and not a program's bytes: of the used ones one (``strict``: every one) has a
    mark that tables give. Be strict where the sector is a file system's boot sector at the same time.
    """
    marks = [entry.status in (0, 0x80) for entry in found if entry.used]
    return bool(marks) and (all(marks) if strict else any(marks))


def describe(sector: bytes, found: list[Entry], supply: Supply, layout: Layout) -> None:
    """Fill the layout from an MBR, following the chain of extended partitions."""
    layout.kind = "mbr"
    layout.disk_id = f"{int.from_bytes(sector[440:444], 'little'):08x}"
    used = [entry for entry in found if entry.used]
    for entry in used:
        if entry.status not in (0, 0x80):
            layout.flaw(
                "partitions damaged", f"Partition {entry.slot} has the mark {entry.status:02X}h, which no table gives."
            )
    layout.parts = [part_of(entry, entry.slot, 0) for entry in used if not entry.extended]
    containers = [entry for entry in used if entry.extended]
    for container in containers[:1]:
        _follow(container, supply, layout)
    if len(containers) > 1:
        layout.flaw("chain damaged", "There is more than one extended partition; the first was followed.")
    if not used:
        layout.warnings.append("The partition table lists no partitions.")
    for sentence in geometry_warnings(layout.parts, supply.total_sectors) + _container_clashes(
        containers, layout.parts
    ):
        layout.flaw("partitions damaged", sentence)


def part_of(entry: Entry, number: int, base: int) -> Part:
    """An entry as a partition."""
    return Part(number, base + entry.first, entry.sectors, f"{entry.type_code:x}", active=entry.status == 0x80)


def _follow(container: Entry, supply: Supply, layout: Layout) -> None:
    """Walk the chain from EBR to EBR."""
    here, number, end = container.first, 5, container.first + container.sectors
    for _ in range(MOST_LINKS):
        if not _ready(here, end, container, layout):
            return
        sector = supply.get(here)
        if sector is None:
            layout.flaw(
                "chain not supplied",
                f"The chain of extended partitions goes on at sector {here}, which was not supplied.",
            )
            return
        if not signed(sector):
            layout.flaw(
                "chain damaged: signature", f"The extended partition's record at sector {here} has no signature 55AAh."
            )
            return
        layout.ebr_lbas.append(here)
        found = [entry for entry in entries(sector) if entry.used]
        for entry in [entry for entry in found if not entry.extended][:1]:
            layout.parts.append(part_of(entry, number, here))
            number += 1
        link = next((entry for entry in found if entry.extended), None)
        if link is None:
            return
        here = container.first + link.first
    layout.flaw(
        "chain damaged: too long",
        f"The chain of extended partitions has more than {MOST_LINKS} links; it was left there.",
    )


def _ready(here: int, end: int, container: Entry, layout: Layout) -> bool:
    """Whether the next link may be followed."""
    if here in layout.ebr_lbas:
        layout.flaw(
            "chain damaged: loop", f"The chain of extended partitions leads back to sector {here}; it was left there."
        )
        return False
    if not container.first <= here < end:
        layout.flaw(
            "chain damaged: outside", f"The chain of extended partitions leads to sector {here}, outside its container."
        )
        return False
    return True


def _container_clashes(containers: list[Entry], parts: list[Part]) -> list[str]:
    """Sentences about logical partitions that leave their container, and primary ones that lie in it."""
    if not containers:
        return []
    first, end = containers[0].first, containers[0].first + containers[0].sectors
    logical = [part for part in parts if part.number > _ENTRIES and part.last_lba >= end]
    primary = [part for part in parts if part.number <= _ENTRIES and part.first_lba < end and part.last_lba >= first]
    return [f"Logical partition {part.number} ends outside the extended partition." for part in logical] + [
        f"Partition {part.number} and the extended partition overlap." for part in primary
    ]
