"""Sizes as people read them: decimal prefixes first, binary ones beside them where it matters.

Prefixes after IEC 80000-13 (kB is 1000 bytes, KiB is 1024 bytes).

>>> si(500_107_862_016), binary(500_107_862_016)
('500.1 GB', '465.8 GiB')
>>> counted(976_773_168, "sector"), counted(1, "sector")
('976,773,168 sectors', '1 sector')
"""

from __future__ import annotations

_SI = ("kB", "MB", "GB", "TB", "PB", "EB")
_BINARY = ("KiB", "MiB", "GiB", "TiB", "PiB", "EiB")


def si(size: int) -> str:
    """Bytes with a decimal prefix and at most one decimal: ``34 kB``, ``500.1 GB``."""
    return _scaled(size, 1000, _SI)


def binary(size: int) -> str:
    """Bytes with a binary prefix and at most one decimal: ``465.8 GiB``."""
    return _scaled(size, 1024, _BINARY)


def counted(count: int, unit: str) -> str:
    """A whole number with its unit, thousands marked: ``976,773,168 sectors``, ``2 enquiries``."""
    many = f"{unit[:-1]}ies" if unit.endswith("y") and unit[-2:-1] not in "aeiou" else f"{unit}s"
    return f"{count:,} {unit if abs(count) == 1 else many}"


def _scaled(size: int, step: int, names: tuple[str, ...]) -> str:
    if abs(size) < step:
        return counted(size, "byte")
    power = 1
    # Rounding may carry: 999,960 bytes are 1 MB, not 1000 kB.
    while power < len(names) and abs(round(size / step**power, 1)) >= step:
        power += 1
    return f"{size / step**power:,.1f}".removesuffix(".0") + f" {names[power - 1]}"
