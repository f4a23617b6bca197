"""GUID partition tables: both headers, both checksums, which one can be used and what is wrong with the other.

Layout and order of checks as in the UEFI specification, chapter 5: signature, header CRC32, the header's own LBA, then
the CRC32 of the entries; the primary header first, then the one in the last sector. Limits here, whatever a header
claims: the entries are read only up to ``MOST_ENTRY_BYTES``.
"""

from __future__ import annotations

import struct
import zlib
from codecs import utf_16_le_decode
from dataclasses import dataclass
from functools import lru_cache

from .layout import Layout, Part, Supply, geometry_warnings, guid

SIGNATURE = b"EFI PART"
MOST_ENTRY_BYTES = 2**20  # the usual 128 entries take 16 KiB
_HEADER = struct.Struct("<8s4sIIIQQQQ16sQIII")
_ENTRY = struct.Struct("<16s16sQQQ72s")
_SMALLEST_HEADER, _ENTRY_BYTES = 92, 128
_NO_TYPE = bytes(16)
_type_guid = lru_cache(maxsize=256)(guid)


@dataclass(slots=True)
class Header:
    """One header and what failed of it; ``entries`` is empty when they could not be had."""

    name: str
    lba: int
    present: bool = False
    faults: tuple[str, ...] = ()
    alternate_lba: int = 0
    first_usable: int = 0
    last_usable: int = 0
    disk_guid: bytes = b""
    entry_count: int = 0
    entry_size: int = _ENTRY_BYTES
    entries_lba: int = 0
    entries: bytes = b""
    entries_match: bool = False

    @property
    def usable(self) -> bool:
        """Whether every check held."""
        return self.present and not self.faults

    def same_disk(self, other: Header) -> bool:
        """Whether both headers describe one table."""
        names = ("disk_guid", "entry_count", "entry_size", "first_usable", "last_usable")
        return self.entries == other.entries and all(getattr(self, name) == getattr(other, name) for name in names)


def read_headers(supply: Supply) -> tuple[Header, Header | None]:
    """The primary header and the backup; None for a backup whose place was not supplied."""
    primary = _read_header(supply, "primary", 1) or Header("primary", 1, faults=("its sector was not supplied",))
    last = supply.total_sectors - 1 if supply.total_sectors is not None else None
    if last is None:
        last = _last_lba(supply, primary)
    return primary, _read_header(supply, "backup", last) if last and last > 1 else None


def _last_lba(supply: Supply, primary: Header) -> int | None:
    """Where the medium ends when nobody said: as the last supplied sector's header says, or as the primary does."""
    size = supply.sector_bytes
    sector = supply.tail[len(supply.tail) - size :] if len(supply.tail) >= size else b""
    if sector[:8] == SIGNATURE:
        own = int.from_bytes(sector[24:32], "little")
        supply.total_sectors = own + 1
        return own
    if primary.usable and primary.alternate_lba > 1:
        if sector:  # a tail was given, so the medium ends with it
            supply.total_sectors = primary.alternate_lba + 1
        return primary.alternate_lba
    return None


def _read_header(supply: Supply, name: str, lba: int) -> Header | None:
    sector = supply.get(lba)
    if sector is None:
        return None
    header = Header(name, lba)
    if sector[:8] != SIGNATURE:
        header.faults = ("its signature is missing",)
        return header
    header.present = True
    fields = _HEADER.unpack_from(sector)
    _, _, size, crc, _, own, header.alternate_lba, header.first_usable, header.last_usable, header.disk_guid = fields[
        :10
    ]
    header.entries_lba, header.entry_count, header.entry_size, entries_crc = fields[10:]
    header.faults = tuple(_header_faults(sector, size, crc, own, lba))
    header.faults += tuple(_entry_faults(supply, header, entries_crc))
    return header


def _header_faults(sector: bytes, size: int, crc: int, own: int, lba: int) -> list[str]:
    if not _SMALLEST_HEADER <= size <= len(sector):
        return [f"it claims to be {size} bytes long"]
    faults = []
    computed = zlib.crc32(sector[:16] + bytes(4) + sector[20:size])
    if computed != crc:
        faults.append(f"its checksum is {crc:08x} and should be {computed:08x}")
    if own != lba:
        faults.append(f"it says that it stands in sector {own} and stands in sector {lba}")
    return faults


def _entry_faults(supply: Supply, header: Header, crc: int) -> list[str]:
    """Read the entries and check them; what they claim is looked at before anything is read."""
    count, size = header.entry_count, header.entry_size
    if size < _ENTRY_BYTES or size % 8 or size > 4096:
        return [f"it claims partition entries of {size} bytes"]
    if count < 1 or count * size > MOST_ENTRY_BYTES:
        return [f"it claims {count} partition entries, which cannot be"]
    sectors = -(-count * size // supply.sector_bytes)
    entries = supply.get(header.entries_lba, sectors)
    if entries is None:
        return [f"its partition entries at sector {header.entries_lba} were not supplied"]
    header.entries = entries[: count * size]
    computed = zlib.crc32(header.entries)
    header.entries_match = computed == crc
    return [] if header.entries_match else [f"the checksum of its entries is {crc:08x} and should be {computed:08x}"]


def read_parts(header: Header) -> list[Part]:
    """The partitions a header lists, in the table's order; empty entries are skipped."""
    entries, step = header.entries, header.entry_size
    if step != _ENTRY_BYTES:
        entries = b"".join([entries[at : at + _ENTRY_BYTES] for at in range(0, len(entries), step)])
    # The codec's own function: str.decode looks the codec up each time, which would take half of a table's reading.
    decode, kinds = utf_16_le_decode, _type_guid
    return [
        Part(
            n,
            first,
            last - first + 1,
            kinds(kind),
            decode(name, "replace")[0].split("\0", 1)[0],
            False,
            attributes,
            own,
        )
        for n, (kind, own, first, last, attributes, name) in enumerate(_ENTRY.iter_unpack(entries), start=1)
        if kind != _NO_TYPE
    ]


def describe(primary: Header, backup: Header | None, supply: Supply, layout: Layout) -> None:
    """Fill the layout from the header that can be used, and say what is wrong with the other."""
    chosen = primary if primary.usable else backup if backup and backup.usable else None
    if chosen is None:
        _describe_unusable(primary, backup, layout)
        return
    layout.kind, layout.used = "gpt", chosen.name
    layout.disk_id = guid(chosen.disk_guid)
    layout.parts = read_parts(chosen)
    if not primary.usable:
        layout.flaw("primary damaged", f"{_failed(primary)}; the backup was used.")
    elif backup is None or not backup.usable:
        _describe_backup(primary, backup, supply, layout)
    elif not primary.same_disk(backup):
        layout.flaw("headers differ", "Both GPT headers are sound but do not agree; the primary was used.")
        layout.others = read_parts(backup)
    _check_geometry(chosen, supply, layout)


def _describe_unusable(primary: Header, backup: Header | None, layout: Layout) -> None:
    """Neither header holds: nothing is used, and what they list is set beside."""
    sentences = [f"{_failed(primary)}."]
    sentences.append(f"{_failed(backup)}." if backup else "The backup GPT header was not supplied.")
    for header in (primary, backup):
        if header and header.present and header.entries_match:
            sentences.append(
                f"The entries still match what the {header.name} header says of them; they are shown as doubtful."
            )
            layout.others = read_parts(header)
            break
    layout.flaw("both damaged" if backup else "primary damaged", *sentences)


def _describe_backup(primary: Header, backup: Header | None, supply: Supply, layout: Layout) -> None:
    end = supply.total_sectors
    if end is not None and primary.alternate_lba >= end:
        layout.flaw(
            "backup missing",
            f"The backup GPT should stand in sector {primary.alternate_lba}, but the medium ends at sector {end - 1}: "
            "the image is cut short, or the medium is clipped.",
        )
    elif backup is not None:
        layout.flaw("backup damaged", f"{_failed(backup)}; the primary was used.")
    else:
        layout.warnings.append("The last sectors were not supplied, so the backup GPT was not looked at.")


def _failed(header: Header) -> str:
    return f"The {header.name} GPT header failed: {', '.join(header.faults)}"


def _check_geometry(header: Header, supply: Supply, layout: Layout) -> None:
    """Leave out partitions that end before they start, and say which lie where none should."""
    sound = [part for part in layout.parts if part.sectors > 0]
    if len(sound) < len(layout.parts):
        for part in layout.parts:
            if part.sectors < 1:
                sentence = f"Partition {part.number} ends before it starts (sector {part.first_lba}); it was left out."
                layout.flaw("partitions damaged", sentence)
    for sentence in geometry_warnings(sound, supply.total_sectors, (header.first_usable, header.last_usable)):
        layout.flaw("partitions damaged", sentence)
    layout.parts = sound
