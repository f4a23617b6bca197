"""Sectors and printed capacities: the counts disks are agreed to have, and what to think of any other count.

**The rule** (SFF-8447, the successor of IDEMA LBA1-03). Up to and including 8 000 GB a disk of 512-byte sectors has
``97 696 368 + 1 953 504 * (GB - 50)`` sectors; above 8 000 GB it has its capacity rounded up to a whole number of GiB
(``ceiling(capacity / 512, 2**21)`` sectors). With 4096-byte sectors every count is one eighth of that.

>>> sectors_for(80)                 # the worked example of IDEMA LBA1-02 section 6
156301488
>>> sectors_for(12_000)             # ceiling(12e12 / 512, 2**21)
23437770752
>>> standard_gigabytes(976_773_168)
500
>>> standard_gigabytes(78_140_160) is None   # a disk older than the rule
True
>>> words(976_773_168 * 512)
'500.1 GB (465.7 GiB)'

Everything is integer arithmetic; printed figures are cut, never rounded up, so no figure promises more than there is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from .errors import NotAPage

GB = 10**9
SECTOR_SIZES = (512, 4096)
LARGEST_LOW_GB = 8_000  # "high capacity" is more than 8 000 GB
_FIRST_COUNT = 21_168  # 97 696 368 - 50 * 1 953 504
_COUNT_PER_GB = 1_953_504
_HIGH_STEP = 2**21  # 1 GiB in 512-byte sectors

LBA28_LIMIT = 2**28 - 1
LBA32_LIMIT = 2**32
# Counts that jumpers and old firmware clip to; common practice, no source.
_OLD_LIMITS = {16_514_064: "8.4 GB, the limit of cylinder addressing", 66_055_248: "33.8 GB, an old capacity limit"}
_SI = ("B", "kB", "MB", "GB", "TB", "PB", "EB")
_BINARY = ("B", "KiB", "MiB", "GiB", "TiB", "PiB", "EiB")


class NotACapacity(NotAPage):
    """A capacity, a count or a sector size that no rule covers."""


@dataclass(frozen=True, slots=True)
class Nearest:
    """The standard count closest to a reported one; ``difference`` is reported less standard, in sectors."""

    gigabytes: int
    sectors: int
    difference: int


@dataclass(frozen=True, slots=True)
class Reason:
    """One likely reason for a count that is no standard count: a short code and a sentence."""

    code: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Judgement:
    """What to think of a reported count: the advertised GB it fits (``standard``), or None and likely ``reasons``."""

    sectors: int
    sector_bytes: int
    standard: int | None
    nearest: Nearest
    reasons: tuple[Reason, ...]

    @property
    def is_standard(self) -> bool:
        """Whether the count is one the standard knows."""
        return self.standard is not None


@dataclass(frozen=True, slots=True)
class Units:
    """One size in whole units, each cut to an integer."""

    bytes: int
    mb: int
    mib: int
    gb: int
    gib: int


def sectors_for(gigabytes: int, sector_bytes: int = 512) -> int:
    """The sectors of a disk sold as so many GB. Raises NotACapacity for less than 1 GB or another sector size."""
    if gigabytes < 1:
        raise NotACapacity(f"A capacity is 1 GB or more, not {gigabytes} GB.")
    if gigabytes <= LARGEST_LOW_GB:
        return (_FIRST_COUNT + _COUNT_PER_GB * gigabytes) // _ratio(sector_bytes)
    units = -(-gigabytes * GB // (512 * _HIGH_STEP))
    return units * _HIGH_STEP // _ratio(sector_bytes)


def standard_gigabytes(sectors: int, sector_bytes: int = 512) -> int | None:
    """The advertised gigabytes whose standard count is exactly this one, or None.

    Above 8 000 GB a GiB step can hold two whole GB figures; then the rounder of the two is given.
    """
    if sectors < 1:
        _ratio(sector_bytes)
        return None
    count = sectors * _ratio(sector_bytes)
    fits = [gb for gb in _candidates(count) if sectors_for(gb) == count]
    return max(fits, key=_roundness) if fits else None


def nearest_standard(sectors: int, sector_bytes: int = 512) -> Nearest:
    """The standard count closest to a reported one, and how far it is away."""
    ratio = _ratio(sector_bytes)
    count = max(sectors, 0) * ratio
    gigabytes = min(_candidates(count), key=lambda gb: (abs(sectors_for(gb) - count), -_roundness(gb)))
    standard = sectors_for(gigabytes, sector_bytes)
    return Nearest(gigabytes, standard, sectors - standard)


def judge(sectors: int, sector_bytes: int = 512, printed_gigabytes: int | None = None) -> Judgement:
    """Whether a reported count is a standard one, what is nearest, and why it may differ.

    ``printed_gigabytes`` is what the label says, where it is known. A standard count that is not the label's is
    given reasons too.
    """
    standard = standard_gigabytes(sectors, sector_bytes)
    nearest = nearest_standard(sectors, sector_bytes)
    agrees = standard is not None and printed_gigabytes in (None, standard)
    reasons = () if agrees else tuple(_reasons(sectors, sector_bytes, nearest, printed_gigabytes))
    return Judgement(sectors, sector_bytes, standard, nearest, reasons)


def units(size: int) -> Units:
    """A size in bytes as whole MB, MiB, GB and GiB side by side, each cut."""
    return Units(size, size // 10**6, size // 2**20, size // GB, size // 2**30)


def words(size: int) -> str:
    """A size in bytes in SI units with the binary ones beside, one decimal, cut: ``500.1 GB (465.7 GiB)``."""
    if size < 1000:
        return f"{size} B"
    return f"{_scaled(size, 1000, _SI)} ({_scaled(size, 1024, _BINARY)})"


def _scaled(size: int, base: int, names: tuple[str, ...]) -> str:
    power = 0
    while power + 1 < len(names) and size >= base ** (power + 1):
        power += 1
    if not power:
        return f"{size} {names[0]}"
    tenths = size * 10 // base**power
    return f"{tenths // 10}.{tenths % 10} {names[power]}"


def _ratio(sector_bytes: int) -> int:
    if sector_bytes not in SECTOR_SIZES:
        raise NotACapacity(f"The standard counts sectors of 512 or 4096 bytes, not of {sector_bytes}.")
    return sector_bytes // 512


def _candidates(count: int) -> Iterator[int]:
    """Every GB figure whose standard count can be the closest to ``count`` sectors of 512 bytes."""
    low = (count - _FIRST_COUNT) // _COUNT_PER_GB
    yield from {min(max(gb, 1), LARGEST_LOW_GB) for gb in (low, low + 1)}
    high = count * 512 // GB
    yield from range(max(high - 2, LARGEST_LOW_GB + 1), high + 3)


def _roundness(gigabytes: int) -> int:
    return max(step for step in (1, 2, 5, 10, 50, 100, 250, 500, 1000) if gigabytes % step == 0)


def _reasons(sectors: int, sector_bytes: int, nearest: Nearest, printed: int | None) -> Iterator[Reason]:
    """Likely reasons, the surest first; all but the arithmetic is common practice, no source."""
    if sectors <= 0:
        yield Reason("none", "The medium reports no capacity at all: its service area was probably not read.")
        return
    yield from _limits(sectors)
    yield from _translation(sectors, sector_bytes)
    yield from _against_label(sectors * sector_bytes, printed)
    if printed is None and -_COUNT_PER_GB // 16 < nearest.difference * _ratio(sector_bytes) < 0:
        short = words(-nearest.difference * sector_bytes)
        yield Reason(
            "clipped", f"It is {short} short of {nearest.gigabytes} GB: a host-protected area may hide the end."
        )
    yield from _usual(sectors * sector_bytes)


def _limits(sectors: int) -> Iterator[Reason]:
    if sectors in (LBA28_LIMIT, LBA28_LIMIT + 1):
        yield Reason(
            "lba28", "It is the largest count of 28 bits (137.4 GB): something between asks without 48-bit addressing."
        )
    if sectors in (LBA32_LIMIT - 1, LBA32_LIMIT):
        yield Reason("lba32", "It is the largest count of 32 bits: the bridge or host cannot count further.")
    if sectors in _OLD_LIMITS:
        yield Reason("clipped", f"It is {_OLD_LIMITS[sectors]}: a jumper or a host-protected area clips the disk.")


def _translation(sectors: int, sector_bytes: int) -> Iterator[Reason]:
    other = 4096 if sector_bytes == 512 else 512
    if fits := standard_gigabytes(sectors, other):
        yield Reason(
            "sector-size", f"In sectors of {other} bytes it is {fits} GB: the sector size was misread or translated."
        )
    for turns in (1, 2, 3, 4):
        if fits := standard_gigabytes(sectors + turns * LBA32_LIMIT, sector_bytes):
            yield Reason(
                "wrapped", f"With {turns} times 2^32 added it is {fits} GB: a bridge that counts in 32 bits wrapped."
            )


def _against_label(size: int, printed: int | None) -> Iterator[Reason]:
    if printed is None:
        return
    if size < printed * GB:
        yield Reason(
            "clipped",
            f"It is less than the {printed} GB printed: a host-protected area, a jumper or a wrong translation.",
        )
        if size * 2 <= printed * GB:
            yield Reason(
                "forged", "It is half of what is printed or less: the label may be forged, or heads are cut off."
            )
    elif size >= (printed + 1) * GB + printed * GB // 50:
        yield Reason("forged", f"It is more than the {printed} GB printed: the count or the label may be forged.")


def _usual(size: int) -> Iterator[Reason]:
    if size % 2**20 == 0:
        yield Reason("flash", "It is a whole number of MiB, which is normal on cards and sticks.")
    if size < 160 * GB:
        yield Reason("old", "Disks of less than 160 GB may be older than the standard and fit no rule.")
    yield Reason("no-rule", "Some disks fit no rule; compare with another of the same model.")
