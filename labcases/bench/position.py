"""Where a reading stands: the sector at which the newest rows of what was read end.

A table of spans says in its order what the machine did, so its last row that tried anything is where it came to. Read
downward (the row before begins behind it), it came to that row's first sector; else to its last one.

>>> read, skipped, unreached = CODES["read"], CODES["skipped"], CODES["unreached"]
>>> stands_at([0, 100, 50], [100, 20, 10], [read, skipped, unreached])
119
>>> stands_at([500, 400], [100, 100], [read, read])
400
>>> stands_at([0], [100], [unreached]) is None
True
"""

from __future__ import annotations

from typing import Any

import numpy as np

from labcases.bench.coverage import CODES

TRIED = ("read", "unreadable", "skipped")  # who doubts sectors reads none


def stands_at(firsts: Any, sectors: Any, codes: Any) -> int | None:
    """The sector that the rows end at; ``codes`` are those of their states. None when nothing was tried."""
    begin, length = np.asarray(firsts, np.int64), np.asarray(sectors, np.int64)
    tried = np.flatnonzero(np.isin(np.asarray(codes), [CODES[state] for state in TRIED]) & (length > 0))
    if not tried.size:
        return None
    last = tried[-1]
    downward = tried.size > 1 and begin[last] < begin[tried[-2]]
    return int(begin[last] if downward else begin[last] + length[last] - 1)
