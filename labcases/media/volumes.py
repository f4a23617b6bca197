"""Which file system starts here: enough to say its kind, size, cluster size, volume id and name, and no more.

Looked at are the boot sectors of the FAT family, exFAT and NTFS, the superblocks of ext2/3/4, XFS, APFS, HFS+ and
Btrfs, and the headers of encrypted volumes (LUKS, FVE). Offsets are from memory of the public descriptions and are held
by tests against volumes that standard tools made. Nothing is mounted; damage is said in ``warnings``.
"""

from __future__ import annotations

import struct
import uuid
from collections.abc import Callable
from dataclasses import dataclass

from .checksums import crc32c, fletcher64

# The bytes a look wants from a volume's start, the best first: Btrfs keeps its superblock at 64 KiB.
LOOK_BYTES = (68 * 1024, 8 * 1024, 4096, 512)
_LARGEST_BLOCK = 2**16


@dataclass(frozen=True, slots=True)
class Volume:
    """A file system or an encrypted volume. Sizes in bytes, None where the header does not say."""

    kind: str
    size_bytes: int | None = None
    cluster_bytes: int | None = None
    sector_bytes: int | None = None
    volume_id: str | None = None
    name: str = ""
    encrypted: bool = False
    warnings: tuple[str, ...] = ()


def read_volume(start: bytes) -> Volume | None:
    """The volume whose first bytes these are, or None where nothing is recognised. Never fails, whatever the bytes."""
    for reader in _READERS:
        if (found := reader(start)) is not None:
            return found
    return None


def _little(data: bytes, at: int, size: int) -> int:
    return int.from_bytes(data[at : at + size], "little")


def _big(data: bytes, at: int, size: int) -> int:
    return int.from_bytes(data[at : at + size], "big")


def _name(raw: bytes) -> str:
    text = raw.split(b"\0", 1)[0].decode("utf-8", errors="replace").strip()
    return "".join(char if char.isprintable() else "?" for char in text)


def _uuid(raw: bytes) -> str | None:
    return str(uuid.UUID(bytes=raw)) if len(raw) == 16 and any(raw) else None


def _is_power(value: int, least: int, most: int) -> bool:
    return least <= value <= most and value & (value - 1) == 0


def _flaws(*checks: tuple[bool, str]) -> tuple[str, ...]:
    return tuple(sentence for holds, sentence in checks if not holds)


_NO_SIGNATURE = "The boot sector has no signature 55AAh."


def _fat(start: bytes) -> Volume | None:
    """FAT12, FAT16 and FAT32: the parameter block must be possible; the count of clusters tells the kind."""
    if len(start) < 512 or start[0] not in (0xEB, 0xE9) or start[510:512] != b"\x55\xaa":
        return None
    sector, cluster, reserved, tables = _little(start, 11, 2), start[13], _little(start, 14, 2), start[16]
    possible = _is_power(sector, 512, 4096) and _is_power(cluster, 1, 128) and reserved and 1 <= tables <= 4
    if not possible or not (start[21] == 0xF0 or start[21] >= 0xF8):
        return None
    total = _little(start, 19, 2) or _little(start, 32, 4)
    table = _little(start, 22, 2) or _little(start, 36, 4)
    root = -(-_little(start, 17, 2) * 32 // sector)
    clusters = (total - reserved - tables * table - root) // cluster
    wide = _little(start, 22, 2) == 0
    if not total or not table or clusters < 1:
        return None
    kind = "FAT32" if wide else "FAT12" if clusters < 4085 else "FAT16"
    at = 64 if wide else 36  # drive number; two bytes on the mark, then the volume's serial number and name
    mark = start[at + 2]
    return Volume(
        kind, total * sector, cluster * sector, sector,
        _short_id(start, at + 3) if mark in (0x28, 0x29) else None,
        start[at + 7 : at + 18].decode("cp437").strip().replace("NO NAME", "") if mark == 0x29 else "",
        warnings=_fat_flaws(start, sector, wide),
    )  # fmt: skip


def _short_id(start: bytes, at: int) -> str:
    value = _little(start, at, 4)
    return f"{value >> 16:04X}-{value & 0xFFFF:04X}"


def _fat_flaws(start: bytes, sector: int, wide: bool) -> tuple[str, ...]:
    """FAT32 keeps a copy of its boot sector: where it is supplied it should be the same."""
    at = _little(start, 50, 2) * sector
    copy = start[at : at + 90] if wide and at > 0 and at + 512 <= len(start) else start[:90]
    return _flaws((copy == start[:90], "The boot sector and its copy differ."))


def _exfat(start: bytes) -> Volume | None:
    if len(start) < 512 or start[3:11] != b"EXFAT   ":
        return None
    sector_shift, cluster_shift = start[108], start[109]
    if not 9 <= sector_shift <= 12 or sector_shift + cluster_shift > 25:
        return Volume("exFAT", warnings=("The boot sector claims impossible sector or cluster sizes.",))
    return Volume(
        "exFAT",
        _little(start, 72, 8) << sector_shift,
        1 << (sector_shift + cluster_shift),
        1 << sector_shift,
        _short_id(start, 100),
        warnings=_flaws(
            (start[510:512] == b"\x55\xaa", _NO_SIGNATURE),
            (_exfat_boot_sum(start, 1 << sector_shift), "The checksum of the boot region is wrong."),
        ),
    )


def _exfat_boot_sum(start: bytes, sector: int) -> bool:
    """The sum over the first 11 sectors, kept in the twelfth; True where they were not supplied."""
    if len(start) < 12 * sector:
        return True
    total = 0
    for at, byte in enumerate(start[: 11 * sector]):
        if at not in (106, 107, 112):  # flags and percent in use change without it
            total = ((total << 31 | total >> 1) + byte) & 0xFFFFFFFF
    return total == _little(start, 11 * sector, 4)


def _ntfs(start: bytes) -> Volume | None:
    if len(start) < 512 or start[3:11] != b"NTFS    ":
        return None
    sector, raw = _little(start, 11, 2), start[13]
    cluster = raw if raw <= 0x80 else 1 << (256 - raw)
    if not _is_power(sector, 256, 4096) or not _is_power(cluster * sector, 256, 2**21):
        return Volume("NTFS", warnings=("The boot sector claims impossible sector or cluster sizes.",))
    sectors = _little(start, 40, 8) + 1  # the last sector holds the copy of the first and is not counted
    mft = _little(start, 48, 8) * cluster
    return Volume(
        "NTFS", sectors * sector, cluster * sector, sector, f"{_little(start, 72, 8):016X}",
        warnings=_flaws(
            (start[510:512] == b"\x55\xaa", _NO_SIGNATURE),
            (0 < mft < sectors, "The boot sector places the file table outside the volume."),
        ),
    )  # fmt: skip


def _ext(start: bytes) -> Volume | None:
    """ext2, ext3 and ext4, told apart by their features (superblock at byte 1024)."""
    block = start[1024:2048]
    if len(block) < 1024 or block[56:58] != b"\x53\xef":
        return None
    compatible, incompatible, read_only = struct.unpack_from("<III", block, 92)
    newer = incompatible & 0x2C0 or read_only & 0x478  # extents, 64 bit, flexible groups; huge files … checksums
    kind = "ext4" if newer else "ext3" if compatible & 4 else "ext2"
    shift = _little(block, 24, 4)
    if shift > 6:
        return Volume(kind, warnings=("The superblock claims an impossible block size.",))
    blocks = _little(block, 4, 4) | (_little(block, 336, 4) << 32 if incompatible & 0x80 else 0)
    summed = not read_only & 0x400 or crc32c(block[:1020], finish=False) == _little(block, 1020, 4)
    return Volume(
        kind, blocks << (10 + shift), 1 << (10 + shift), None, _uuid(block[104:120]), _name(block[120:136]),
        warnings=_flaws(
            (summed, "The checksum of the superblock is wrong."),
            (not incompatible & 4, "The journal has changes that were not played back."),
            (not incompatible & 0x10000, "Some folders may be encrypted."),
        ),
    )  # fmt: skip


def _xfs(start: bytes) -> Volume | None:
    if len(start) < 512 or start[:4] != b"XFSB":
        return None
    block, sector = _big(start, 4, 4), _big(start, 102, 2)
    if not _is_power(block, 512, _LARGEST_BLOCK) or not _is_power(sector, 512, 2**15):
        return Volume("XFS", warnings=("The superblock claims impossible block or sector sizes.",))
    covered = start[:sector]
    summed = True
    if _big(start, 100, 2) & 15 == 5 and len(covered) == sector:
        summed = crc32c(covered[:224] + bytes(4) + covered[228:]) == _little(covered, 224, 4)
    return Volume(
        "XFS", _big(start, 8, 8) * block, block, sector, _uuid(start[32:48]), _name(start[108:120]),
        warnings=_flaws((summed, "The checksum of the superblock is wrong.")),
    )  # fmt: skip


def _apfs(start: bytes) -> Volume | None:
    """The container's superblock in block 0; volumes are inside it."""
    if len(start) < 512 or start[32:36] != b"NXSB":
        return None
    block = _little(start, 36, 4)
    if not _is_power(block, 4096, _LARGEST_BLOCK):
        return Volume("APFS", warnings=("The superblock claims an impossible block size.",))
    summed = len(start) < block or fletcher64(start[:block]) == _little(start, 0, 8)
    return Volume(
        "APFS", _little(start, 40, 8) * block, block, None, _uuid(start[72:88]),
        warnings=_flaws((summed, "The checksum of the superblock is wrong.")),
    )  # fmt: skip


def _hfs_plus(start: bytes) -> Volume | None:
    header = start[1024:1536]
    if len(header) < 512 or (header[:2], _big(header, 2, 2)) not in ((b"H+", 4), (b"HX", 5)):
        return None
    block = _big(header, 40, 4)
    if not _is_power(block, 512, 2**28):
        return Volume("HFS+", warnings=("The volume header claims an impossible block size.",))
    volume_id = header[104:112]
    clean = bool(_big(header, 4, 4) & 0x100)
    return Volume(
        "HFS+", _big(header, 44, 4) * block, block, None, volume_id.hex().upper() if any(volume_id) else None,
        warnings=_flaws((clean, "The volume was not closed properly.")),
    )  # fmt: skip


def _btrfs(start: bytes) -> Volume | None:
    block = start[65536 : 65536 + 4096]
    if len(block) < 4096 or block[64:72] != b"_BHRfS_M":
        return None
    summed = _little(block, 196, 2) != 0 or crc32c(block[32:]) == _little(block, 0, 4)  # other kinds are not computed
    return Volume(
        "Btrfs", _little(block, 209, 8), _little(block, 144, 4), _little(block, 144, 4), _uuid(block[32:48]),
        _name(block[299:555]),
        warnings=_flaws(
            (summed, "The checksum of the superblock is wrong."),
            (_little(block, 136, 8) == 1, f"The file system spans {_little(block, 136, 8)} media."),
        ),
    )  # fmt: skip


def _luks(start: bytes) -> Volume | None:
    version = _big(start, 6, 2)
    if len(start) < 512 or start[:6] != b"LUKS\xba\xbe":
        return None
    name = _name(start[24:72]) if version == 2 else ""
    known = _flaws((version in (1, 2), f"The header has version {version}, which is not known."))
    return Volume(f"LUKS{version}", None, None, None, _name(start[168:208]) or None, name, True, known)


def _fve(start: bytes) -> Volume | None:
    """A fully encrypted volume whose boot sector says so where the file system's name stands otherwise."""
    if len(start) < 512 or start[3:11] != b"-FVE-FS-":
        return None
    sector = _little(start, 11, 2)
    return Volume("FVE", sector_bytes=sector if _is_power(sector, 512, 4096) else None, encrypted=True)


_READERS: tuple[Callable[[bytes], Volume | None], ...] = (
    _luks, _fve, _ntfs, _exfat, _xfs, _apfs, _btrfs, _ext, _hfs_plus, _fat,
)  # fmt: skip
