"""How a medium is divided: MBR with extended partitions, GPT, or none, from the first and last sectors of its *clone*.

Damage is described in ``warnings``, never thrown: which header failed which check, which was used instead, overlaps,
partitions past the end. Nothing is mounted and nothing is written. Only a head shorter than one sector, or a sector
size that cannot be, raises :class:`NotALayout`.
"""

from __future__ import annotations

from . import gpt, mbr, volumes
from .layout import Layout, NotALayout, Part, ReadAt, Supply

__all__ = ["Layout", "NotALayout", "Part", "read_partitions", "read_volumes"]
_SECTOR_SIZES = (512, 1024, 2048, 4096)
_MOST_VOLUMES = 128


def read_partitions(
    head: bytes,
    tail: bytes = b"",
    sector_bytes: int = 512,
    total_sectors: int | None = None,
    read_at: ReadAt | None = None,
) -> Layout:
    """Read the partition table.

    ``head`` and ``tail`` are the first and last sectors (34 and 33 hold a usual GPT of 512-byte sectors; more shows
    more file systems); ``read_at(lba, count)`` supplies others. It is asked for a bounded number, whatever is claimed.
    """
    if sector_bytes not in _SECTOR_SIZES:
        raise NotALayout(f"Sectors of {sector_bytes} bytes are not known; give 512 or 4096.")
    if len(head) < sector_bytes:
        raise NotALayout(f"The first sector is not whole: {len(head)} of {sector_bytes} bytes were handed over.")
    supply = Supply(bytes(head), bytes(tail), sector_bytes, total_sectors, read_at)
    layout = Layout("none", sector_bytes=sector_bytes)
    _read_tables(supply, layout)
    layout.total_sectors = supply.total_sectors
    _look(layout, Supply(supply.head, supply.tail, sector_bytes, supply.total_sectors, None))
    return layout


def read_volumes(layout: Layout, read_at: ReadAt) -> None:
    """Look at the first sectors of each partition through ``read_at`` and fill the volumes not known yet."""
    _look(layout, Supply(b"", b"", layout.sector_bytes, layout.total_sectors, read_at))


def _read_tables(supply: Supply, layout: Layout) -> None:
    sector = supply.head[: supply.sector_bytes]
    found = mbr.entries(sector) if mbr.signed(sector) else []
    whole = volumes.read_volume(supply.head)
    protected = any(entry.type_code == mbr.PROTECTIVE for entry in found)
    tabled = mbr.plausible(found, strict=whole is not None)
    primary, backup = gpt.read_headers(supply)
    seen = primary.present or (backup is not None and backup.present)
    sound = primary.usable or (backup is not None and backup.usable)
    if protected or (seen and not tabled):
        _read_gpt(primary, backup, supply, layout, protected)
        _read_hybrid(found, layout, protected)
    elif tabled or (found and whole is None and not any(entry.used for entry in found)):
        mbr.describe(sector, found, supply, layout)
        _mention_stale_gpt(primary, backup, layout, sound)
    else:
        _read_no_table(sector, supply, layout)
    if layout.kind == "none":
        layout.volume = whole
        _mention_volume(layout, protected)
        _try_other_sector_size(supply, layout)


def _read_gpt(primary: gpt.Header, backup: gpt.Header | None, supply: Supply, layout: Layout, protected: bool) -> None:
    gpt.describe(primary, backup, supply, layout)
    if not protected:
        layout.flaw(
            "no protective MBR",
            "Sector 0 has no protective MBR, so firmware will not see this GPT; it was read all the same.",
        )


def _read_hybrid(found: list[mbr.Entry], layout: Layout, protected: bool) -> None:
    real = [entry for entry in found if entry.used and entry.type_code != mbr.PROTECTIVE]
    if protected and real:
        layout.warnings.append(f"The MBR is hybrid: besides the GPT it lists {len(real)} partitions of its own.")
        layout.others = layout.others or [mbr.part_of(entry, entry.slot, 0) for entry in real]


def _mention_stale_gpt(primary: gpt.Header, backup: gpt.Header | None, layout: Layout, sound: bool) -> None:
    """An MBR without a protective entry rules; a GPT beside it is an older or a newer layout."""
    if not sound:
        return
    header = primary if primary.usable or backup is None else backup
    layout.warnings.append("There is a sound GPT too, of an earlier or later layout; the MBR does not point to it.")
    layout.others = gpt.read_parts(header)


def _read_no_table(sector: bytes, supply: Supply, layout: Layout) -> None:
    if not any(supply.head) and not any(supply.tail):
        layout.flaw("blank", "All supplied sectors are blank: no partition table, no file system.")
    elif not mbr.signed(sector):
        layout.flaw("no boot signature", "Sector 0 has no boot signature 55AAh; there is no partition table in it.")
    else:
        layout.flaw("no table", "Sector 0 has a boot signature, but its entries are no partition table.")


def _mention_volume(layout: Layout, protected: bool) -> None:
    if layout.volume and not protected:
        layout.status = "volume without a table"
        layout.warnings.append(f"A file system ({layout.volume.kind}) starts at sector 0, without a partition table.")


def _try_other_sector_size(supply: Supply, layout: Layout) -> None:
    """A GPT header at another sector size's place: a bridge translated, or the wrong size was given."""
    for size in (512, 4096):
        if size != supply.sector_bytes and supply.head[size : size + 8] == gpt.SIGNATURE:
            layout.likely_sector_bytes = size
            layout.warnings.append(f"A GPT header stands at byte {size}: read it again with sectors of {size} bytes.")


def _look(layout: Layout, supply: Supply) -> None:
    """Fill each partition's volume from the sectors that are supplied, the largest part of what a reader wants."""
    for part in supply.within_reach(layout.parts[:_MOST_VOLUMES]):
        if part.volume is not None:
            continue
        for wanted in volumes.LOOK_BYTES:
            sectors = min(-(-wanted // layout.sector_bytes), part.sectors)
            if (start := supply.get(part.first_lba, sectors)) is not None:
                part.volume = volumes.read_volume(start)
                break
        if part.volume and part.volume.size_bytes and part.volume.size_bytes > part.sectors * layout.sector_bytes:
            layout.warnings.append(
                f"The {part.volume.kind} file system in partition {part.number} is larger than the partition."
            )
