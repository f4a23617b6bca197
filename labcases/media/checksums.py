"""The two checksums of file-system superblocks that the standard library lacks: CRC-32C and Fletcher-64.

>>> hex(crc32c(b"123456789"))     # check value of CRC-32C (RFC 3720, appendix B.4, gives others)
'0xe3069283'
"""

from __future__ import annotations

import struct

_POLYNOMIAL = 0x82F63B78  # Castagnoli, reflected
_FLETCHER_MODULUS = 2**32 - 1


def _table() -> tuple[int, ...]:
    rows = []
    for value in range(256):
        for _ in range(8):
            value = value >> 1 ^ (_POLYNOMIAL if value & 1 else 0)
        rows.append(value)
    return tuple(rows)


_TABLE = _table()


def crc32c(data: bytes, start: int = 0xFFFFFFFF, *, finish: bool = True) -> int:
    """CRC-32C of at most a few KiB. ``finish=False`` leaves out the last inversion, as ext does."""
    value = start
    for byte in data:
        value = value >> 8 ^ _TABLE[(value ^ byte) & 0xFF]
    return value ^ 0xFFFFFFFF if finish else value


def fletcher64(block: bytes) -> int:
    """The checksum of an APFS object: over everything behind its first eight bytes, in little-endian 32-bit words."""
    low = high = 0
    for (word,) in struct.iter_unpack("<I", block[8 : len(block) // 4 * 4]):
        low = (low + word) % _FLETCHER_MODULUS
        high = (high + low) % _FLETCHER_MODULUS
    first = _FLETCHER_MODULUS - (low + high) % _FLETCHER_MODULUS
    second = _FLETCHER_MODULUS - (low + first) % _FLETCHER_MODULUS
    return second << 32 | first
