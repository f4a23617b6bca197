"""What a partition table says, as plain records, and the sectors a reader is given to find it out.

:class:`Supply` is the only way the readers of this room get at sectors: the first and the last ones of the clone, and
for the rest a function. It never gives a wrong number of bytes, never fails, and asks for a bounded number at most.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from operator import gt

from .errors import NotAPage
from .names import type_name
from .volumes import Volume

ReadAt = Callable[[int, int], bytes]
MOST_READS = 512  # whatever a table claims
MOST_BYTES = 32 * 2**20


class NotALayout(NotAPage):
    """What was handed over cannot be looked at for partitions at all (damage is described instead)."""


@dataclass(slots=True)
class Part:
    """One partition. ``type_code`` is a GUID in capitals (GPT) or hexadecimal digits without leading zero (MBR).

    ``number`` is the table's own (logical partitions start at 5); LBAs and sizes count sectors of the layout's size.
    """

    number: int
    first_lba: int
    sectors: int
    type_code: str
    name: str = ""
    active: bool = False
    attributes: int = 0
    raw_id: bytes = b""
    volume: Volume | None = None

    @property
    def last_lba(self) -> int:
        """The last sector, inclusive."""
        return self.first_lba + self.sectors - 1

    @property
    def part_id(self) -> str | None:
        """The partition's own GUID in capitals, None in an MBR."""
        return guid(self.raw_id) if self.raw_id else None

    @property
    def type_name(self) -> str:
        """What the type code stands for, or "unknown type"."""
        return type_name(self.type_code)


@dataclass(slots=True)
class Layout:
    """What was found. ``kind`` is ``gpt``, ``mbr`` or ``none``; ``parts`` come from that table, containers left out.

    ``status`` is a word or two ("ok", "primary damaged", "blank" …), ``warnings`` are sentences. ``used`` says which
    GPT header was used. ``others`` are partitions named by a table that was *not* used: entries of a hybrid MBR, of an
    older table, or of a header that failed its checks: to be compared, not trusted. ``ebr_lbas`` are the sectors of
    the chain of extended partitions. ``volume`` is a file system that starts at sector 0, without a table.
    ``likely_sector_bytes`` is set when the table looks like one of another sector size.
    """

    kind: str
    parts: list[Part] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    status: str = "ok"
    used: str | None = None
    others: list[Part] = field(default_factory=list)
    ebr_lbas: list[int] = field(default_factory=list)
    volume: Volume | None = None
    disk_id: str | None = None
    sector_bytes: int = 512
    total_sectors: int | None = None
    likely_sector_bytes: int | None = None

    def flaw(self, status: str, *sentences: str) -> None:
        """Add warnings, and set the status where the layout was thought whole."""
        self.warnings.extend(sentences)
        if self.status == "ok":
            self.status = status


class Supply:
    """Sectors of the clone: the head, the tail, and what ``read_at`` can get. Counts its reads and stops at a limit."""

    def __init__(
        self, head: bytes, tail: bytes, sector_bytes: int, total_sectors: int | None, read_at: ReadAt | None
    ) -> None:
        self.head, self.tail = head, tail
        self.sector_bytes, self.total_sectors = sector_bytes, total_sectors
        self.tail_sectors = len(tail) // sector_bytes
        self.reads = self.bytes_read = 0
        self._read_at = read_at

    def within_reach(self, parts: Iterable[Part]) -> list[Part]:
        """The partitions whose first sector may be had; a quick question before :meth:`get`."""
        if self._read_at is not None:
            return list(parts)
        head = len(self.head) // self.sector_bytes
        if self.total_sectors is None:
            return [part for part in parts if part.first_lba < head]
        tail = self.total_sectors - self.tail_sectors
        return [part for part in parts if part.first_lba < head or part.first_lba >= tail]

    def get(self, lba: int, count: int = 1) -> bytes | None:
        """Exactly ``count`` sectors, or None when they were not supplied."""
        size, length = self.sector_bytes, count * self.sector_bytes
        if lba < 0 or count < 1 or (self.total_sectors is not None and lba + count > self.total_sectors):
            return None
        if lba * size + length <= len(self.head):
            return self.head[lba * size : lba * size + length]
        if self.total_sectors is not None and lba >= self.total_sectors - self.tail_sectors:
            at = len(self.tail) - (self.total_sectors - lba) * size
            return self.tail[at : at + length]
        return self._fetch(lba, count, length)

    def _fetch(self, lba: int, count: int, length: int) -> bytes | None:
        if self._read_at is None or self.reads >= MOST_READS or self.bytes_read + length > MOST_BYTES:
            return None
        self.reads += 1
        self.bytes_read += length
        try:
            found = bytes(self._read_at(lba, count))
        except (OSError, LookupError, ValueError, OverflowError):
            return None  # a sector that cannot be had is like one not supplied
        return found[:length] if len(found) >= length else None


def guid(raw: bytes) -> str:
    """Sixteen bytes as a GUID in capitals; its first three fields are little-endian."""
    digits = raw.hex().upper()
    return (
        f"{digits[6:8]}{digits[4:6]}{digits[2:4]}{digits[:2]}-{digits[10:12]}{digits[8:10]}-"
        f"{digits[14:16]}{digits[12:14]}-{digits[16:20]}-{digits[20:]}"
    )


_Span = tuple[int, int, int]  # first sector, the one behind the last, number of the partition


def geometry_warnings(
    parts: Sequence[Part], total_sectors: int | None, usable: tuple[int, int] | None = None
) -> list[str]:
    """Sentences about partitions that overlap, reach past the end, or leave the sectors (first, last) the table keeps.

    A table in order costs three quick looks; sentences are made only where one of them finds something.
    """
    if not parts:
        return []
    firsts = [part.first_lba for part in parts]
    ends = [part.first_lba + part.sectors for part in parts]
    found = []
    if any(map(gt, ends, firsts[1:])):  # out of order, or overlapping
        found += _overlaps(sorted(_spans(parts)))
    if total_sectors is not None and max(ends) > total_sectors:
        found += _past_the_end(_spans(parts), total_sectors)
    if usable and (min(firsts) < usable[0] or max(ends) > usable[1] + 1):
        found += _outside(_spans(parts), *usable)
    return found


def _spans(parts: Iterable[Part]) -> list[_Span]:
    return [(part.first_lba, part.first_lba + part.sectors, part.number) for part in parts]


def _overlaps(spans: Iterable[_Span]) -> list[str]:
    found = []
    furthest: _Span = (0, 0, 0)
    for span in spans:
        first, end, number = span
        if first < furthest[1]:
            shared = min(end, furthest[1]) - first
            found.append(f"Partitions {furthest[2]} and {number} overlap by {shared} sectors.")
        furthest = max(furthest, span, key=lambda one: one[1])
    return found


def _past_the_end(spans: Iterable[_Span], total_sectors: int) -> list[str]:
    found = []
    for first, end, number in spans:
        if end > total_sectors:
            verb, lba = ("starts", first) if first >= total_sectors else ("ends", end - 1)
            found.append(f"Partition {number} {verb} at sector {lba}, past the medium's end of {total_sectors}.")
    return found


def _outside(spans: Iterable[_Span], first_usable: int, last_usable: int) -> list[str]:
    return [
        f"Partition {number} lies outside the sectors the table keeps for partitions."
        for first, end, number in spans
        if first < first_usable or end > last_usable + 1
    ]
