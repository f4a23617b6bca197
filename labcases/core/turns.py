"""Waiting in line to write, for a database that lets in whoever happens to ask at the right moment.

SQLite's waiters look again and again, with longer and longer pauses: at a busy counter one of them can starve. Whoever
holds the turn looks alone; the others sleep until the system wakes them, each in turn. The file is only locked, never
written, and a process that dies gives its turn on.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows: everybody asks at once, as without this
    fcntl = None  # type: ignore[assignment]

_door: list[Path] = []
_mine = threading.local()


def open_at(file: Path) -> None:
    """Use ``file`` from now on; its folder need not be there yet."""
    _door[:] = [file]


@contextmanager
def turn() -> Iterator[None]:
    """Hold the turn, also against other threads and processes; asked for again by whoever holds it, it is held."""
    if fcntl is None or not _door or getattr(_mine, "held", False):
        yield
        return
    _door[0].parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with _door[0].open("a") as door:  # closing it gives the turn on
        fcntl.flock(door, fcntl.LOCK_EX)
        _mine.held = True
        try:
            yield
        finally:
            _mine.held = False
