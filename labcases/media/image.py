"""The layout of a clone in an image file: its ends are read, and the sectors that the table points to, no more."""

from __future__ import annotations

import io
from typing import IO, Any

from .layout import Layout, Part
from .partitions import read_partitions, read_volumes

ENDS_BYTES = 1024 * 1024  # the first and last sectors that are handed over
MOST_PIPED = 64 * 1024 * 1024


def layout_of(image: IO[bytes], sector_bytes: int = 512) -> Layout:
    """The layout of a seekable image. Raises NotALayout when it has no whole first sector, OSError as reading does."""
    step = max(sector_bytes, 1)  # an impossible size is the reader's to refuse
    total = image.seek(0, io.SEEK_END) // step

    def read_at(lba: int, count: int) -> bytes:
        image.seek(lba * step)
        return image.read(count * step)

    image.seek(0)
    head = image.read(ENDS_BYTES)
    tail_sectors = min(ENDS_BYTES // step, total)
    tail = read_at(total - tail_sectors, tail_sectors) if total else b""
    layout = read_partitions(head, tail, sector_bytes, total or None, read_at)
    read_volumes(layout, read_at)
    return layout


def layout_of_bytes(head: bytes, sector_bytes: int = 512, *, whole: bool) -> Layout:
    """The layout of the first bytes of a clone, or (``whole``) of all of it."""
    if whole:
        return layout_of(io.BytesIO(head), sector_bytes)
    layout = read_partitions(head, b"", sector_bytes)
    read_volumes(layout, lambda lba, count: head[lba * sector_bytes : (lba + count) * sector_bytes])
    return layout


def as_json(layout: Layout) -> dict[str, Any]:
    """A layout fit for ``json.dumps``."""
    return {
        "kind": layout.kind,
        "status": layout.status,
        "used": layout.used,
        "disk_id": layout.disk_id,
        "sector_bytes": layout.sector_bytes,
        "likely_sector_bytes": layout.likely_sector_bytes,
        "total_sectors": layout.total_sectors,
        "parts": [_part(part) for part in layout.parts],
        "others": [_part(part) for part in layout.others],
        "volume": _volume(layout.volume),
        "warnings": list(layout.warnings),
    }


def _part(part: Part) -> dict[str, Any]:
    return {
        "number": part.number,
        "first_lba": part.first_lba,
        "sectors": part.sectors,
        "type_code": part.type_code,
        "type_name": part.type_name,
        "name": part.name,
        "id": part.part_id,
        "volume": _volume(part.volume),
    }


def _volume(volume: Any) -> dict[str, Any] | None:
    if volume is None:
        return None
    names = ("kind", "size_bytes", "cluster_bytes", "sector_bytes", "volume_id", "name", "encrypted")
    return {name: getattr(volume, name) for name in names} | {"warnings": list(volume.warnings)}
