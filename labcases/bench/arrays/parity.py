"""Parity of arrays: XOR, and the second parity over GF(2^8); what is missing is worked out from what is left.

From the published definition (H. P. Anvin, "The mathematics of RAID-6", 2004; the same field stands in the Linux
kernel's documentation of its RAID-6): bytes are elements of GF(2^8) with the polynomial x^8 + x^4 + x^3 + x^2 + 1
(0x11D) and the generator 2. With data blocks D0 … Dn-1::

    P = D0 + D1 + … + Dn-1                     (addition is XOR)
    Q = D0 + 2·D1 + 4·D2 + … + 2^(n-1)·Dn-1

>>> data = [b"\\x01\\x80", b"\\x02\\x80", b"\\x04\\x80"]
>>> p, q = parities(data)
>>> p.hex(), q.hex()
('0780', '15a7')

By hand, the second byte of Q: 80 + 2·80 + 4·80 = 80 + 1D + 3A = A7.

>>> restore([None, data[1], None], p, q) == data
True
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

POLYNOMIAL = 0x11D
Bytes = npt.NDArray[np.uint8]


class NotEnough(ValueError):
    """More is missing than the parities can give back."""


def _tables() -> tuple[list[int], list[int]]:
    powers, logs, value = [0] * 510, [0] * 256, 1
    for exponent in range(255):
        powers[exponent] = powers[exponent + 255] = value
        logs[value] = exponent
        value = value << 1 ^ (POLYNOMIAL if value & 0x80 else 0)
    return powers, logs


POWERS, LOGS = _tables()


def times(a: int, b: int) -> int:
    """The product of two elements.

    >>> times(2, 0x80) == 0x1D, times(3, 7)
    (True, 9)
    """
    return POWERS[LOGS[a] + LOGS[b]] if a and b else 0


def inverse(a: int) -> int:
    """The element that gives 1 with this one; ZeroDivisionError for 0."""
    if not a:
        raise ZeroDivisionError("0 has no inverse.")
    return POWERS[255 - LOGS[a]]


def parities(data: Sequence[bytes]) -> tuple[bytes, bytes]:
    """P and Q of blocks of equal length."""
    columns = [_column(block) for block in data]
    p, q = np.zeros_like(columns[0]), np.zeros_like(columns[0])
    for at, column in enumerate(columns):
        p ^= column
        q ^= _scaled(column, POWERS[at % 255])
    return p.tobytes(), q.tobytes()


def restore(data: Sequence[bytes | None], p: bytes | None = None, q: bytes | None = None) -> list[bytes]:
    """All data blocks, the missing ones (None) worked out. Raises NotEnough."""
    missing = [at for at, block in enumerate(data) if block is None]
    left = [p is not None, q is not None]
    if len(missing) > sum(left):
        raise NotEnough(f"{len(missing)} data blocks are missing, and {sum(left)} parities are there.")
    if not missing:
        return [bytes(block) for block in data if block is not None]
    size = len(next(block for block in (*data, p, q) if block is not None))
    known = [bytes(size) if block is None else block for block in data]
    rest_p, rest_q = (_column(part) for part in parities(known))
    if len(missing) == 1 and p is not None:
        found = [rest_p ^ _column(p)]
    elif len(missing) == 1:
        found = [_scaled(rest_q ^ _column(q or b""), inverse(POWERS[missing[0] % 255]))]
    else:
        found = _two(missing[0], missing[1], rest_p ^ _column(p or b""), rest_q ^ _column(q or b""))
    return [found[missing.index(at)].tobytes() if at in missing else bytes(known[at]) for at in range(len(data))]


def _two(x: int, y: int, p: Bytes, q: Bytes) -> list[Bytes]:
    """Dx + Dy = p and g^x Dx + g^y Dy = q, solved for both."""
    gx, gy = POWERS[x % 255], POWERS[y % 255]
    dx = _scaled(_scaled(p, gy) ^ q, inverse(gx ^ gy))
    return [dx, p ^ dx]


def _column(block: bytes) -> Bytes:
    return np.frombuffer(block, np.uint8).copy()


def _scaled(column: Bytes, factor: int) -> Bytes:
    table = np.array([times(factor, value) for value in range(256)], np.uint8)
    found: Bytes = table[column]
    return found
