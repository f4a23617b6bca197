"""Keys that lie beside the database, each in a file that only its owner reads."""

from __future__ import annotations

import os
import threading
from pathlib import Path


def write(path: Path, text: str, *, sure: bool = False) -> None:
    """Whole or not at all, and for the owner only; ``sure`` waits until the disk has it."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.{os.getpid()}.{threading.get_ident()}")  # two threads may write at once
    beside.unlink(missing_ok=True)
    with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="ascii") as out:
        out.write(text)
        if sure:
            out.flush()
            os.fsync(out.fileno())
    os.replace(beside, path)
