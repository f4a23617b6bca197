"""Sizes as people type them, read into bytes: SI units count by 1000, binary units by 1024 (IEC 80000-13).

>>> bytes_said("2 TB"), bytes_said("500gb"), bytes_said("1,5 TiB"), bytes_said("123 456 bytes")
(2000000000000, 500000000000, 1649267441664, 123456)
>>> bytes_said("two drives") is None, bytes_said("0 GB") is None
(True, True)
"""

from __future__ import annotations

import re
from decimal import Decimal

_UNITS = {"": 0, "k": 1, "m": 2, "g": 3, "t": 4, "p": 5}
_SIZE = re.compile(r"(\d[\d \u00a0\u202f]*(?:[.,]\d{1,3})?)\s*(?:(bytes?|b)|([kmgtp])(i?)b?)", re.IGNORECASE)
MOST = 2**62


def bytes_said(text: str) -> int | None:
    """The bytes a text says, or None when it says no size of one byte or more. A unit must stand there."""
    found = _SIZE.fullmatch(text.strip())
    if not found:
        return None
    digits, plain, unit, binary = found.groups()
    number = Decimal(re.sub(r"[ \u00a0\u202f]", "", digits).replace(",", "."))
    factor = 1 if plain else (1024 if binary else 1000) ** _UNITS[unit.casefold()]
    size = int(number * factor)
    return size if 1 <= size <= MOST else None
