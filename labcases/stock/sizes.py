"""What is expected inside a family at each capacity, as people write it: one size a line.

>>> sizes_said("500 GB, 2 heads, 1 platter\\n1000, 4 heads")
[Size(gigabytes=500, heads=2, platters=1), Size(gigabytes=1000, heads=4, platters=None)]
>>> sizes_in_words([Size(500, 2, 1)])
'500 GB, 2 heads, 1 platter'
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from labcases.media.capacity import sectors_for, standard_gigabytes

_SIZE = re.compile(r"(?P<gb>\d{1,6})\s*(?P<unit>GB|TB)?", re.IGNORECASE)
_COUNT = re.compile(r"(?P<count>\d{1,2})\s*(?P<what>heads?|platters?)", re.IGNORECASE)
MOST_GB = 999_999


class NotASize(ValueError):
    """A line that says no size; ``str(error)`` is a sentence."""


@dataclass(frozen=True)
class Size:
    """One capacity of a family; heads and platters None where they are not known."""

    gigabytes: int
    heads: int | None = None
    platters: int | None = None

    @property
    def words(self) -> str:
        """As it is written, without the capacity."""
        said = [_counted(self.heads, "head"), _counted(self.platters, "platter")]
        return ", ".join(word for word in said if word)

    @property
    def sectors(self) -> int:
        """The standard number of 512-byte sectors (SFF-8447)."""
        return sectors_for(self.gigabytes)


def sizes_said(text: str) -> list[Size]:
    """A size a line. Raises NotASize for a line without a capacity, with something else, or said twice."""
    found = [_size(line.strip()) for line in text.splitlines() if line.strip()]
    seen: set[int] = set()
    for size in found:
        if size.gigabytes in seen:
            raise NotASize(f"{size.gigabytes} GB is listed twice.")
        seen.add(size.gigabytes)
    return sorted(found, key=lambda size: size.gigabytes)


def _size(line: str) -> Size:
    first, *rest = [part.strip() for part in line.split(",") if part.strip()] or [""]
    capacity = _SIZE.fullmatch(first)
    gigabytes = int(capacity["gb"]) * (1000 if (capacity["unit"] or "").upper() == "TB" else 1) if capacity else 0
    if not 1 <= gigabytes <= MOST_GB:
        raise NotASize(f"“{line[:40]}” begins with no capacity. Write for example: 500 GB, 2 heads, 1 platter.")
    counts: dict[str, int] = {}
    for part in rest:
        count = _COUNT.fullmatch(part)
        name = count["what"].lower().rstrip("s") if count else ""
        if not count or name in counts:
            raise NotASize(f"“{part[:40]}” in “{line[:40]}” is neither heads nor platters, or stands there twice.")
        counts[name] = int(count["count"])
    return Size(gigabytes, counts.get("head"), counts.get("platter"))


def _counted(count: int | None, word: str) -> str:
    return "" if count is None else f"{count} {word}{'' if count == 1 else 's'}"


def sizes_in_words(sizes: Iterable[Size]) -> str:
    """The lines that ``sizes_said`` reads."""
    return "\n".join(", ".join(part for part in (f"{size.gigabytes} GB", size.words) if part) for size in sizes)


def likely(sizes: Sequence[Size], *, model: str, sectors: int | None) -> list[Size]:
    """The sizes a medium may be of: by its sectors where they are known, else by figures of its model number.

    >>> two = [Size(500, 2), Size(1000, 4)]
    >>> [size.gigabytes for size in likely(two, model="PL500-2M", sectors=None)]
    [500]
    >>> [size.gigabytes for size in likely(two, model="PL-X", sectors=1_953_525_168)]
    [1000]
    """
    if sectors:
        gigabytes = standard_gigabytes(sectors)
        return [size for size in sizes if size.gigabytes == gigabytes]
    figures = {int(figure) for figure in re.findall(r"\d{2,6}", model)}
    return [size for size in sizes if size.gigabytes in figures] or list(sizes)
