"""Private files, kept by what they contain: the name of a file is its SHA-256, so none is ever rewritten.

The folder is set once at start (``open_at``). Nothing in it is served by address; a view that checks who asks
reads the bytes and sends them.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_root: list[Path] = []
_BLOCK = 1 << 20


class Damaged(Exception):
    """A stored file no longer has the content its name promises."""


def open_at(folder: Path) -> None:
    """Use ``folder`` from now on."""
    _root[:] = [folder]


def path(digest: str) -> Path:
    """Where the file of this digest lies (whether or not it is there)."""
    if len(digest) != 64 or not set(digest) <= set("0123456789abcdef"):
        raise ValueError("A digest is 64 hexadecimal digits.")
    return _root[0] / digest[:2] / digest[2:]


def put(data: bytes) -> str:
    """Keep ``data``; the same bytes twice are one file. Returns the SHA-256 in hex."""
    digest = hashlib.sha256(data).hexdigest()
    target = path(digest)
    if target.exists():
        os.utime(target)  # wanted again: ``remove`` leaves it alone
        return digest
    target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    # Written beside and renamed, so that a power cut leaves the whole file or none.
    handle, beside = tempfile.mkstemp(dir=target.parent)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
        os.replace(beside, target)
    except OSError:
        Path(beside).unlink(missing_ok=True)
        raise
    _sync(target.parent)
    return digest


def put_file(file: Path) -> str:
    """Keep a copy of a file that may be too large for memory. Returns the SHA-256 in hex."""
    hashed = hashlib.sha256()
    with incoming() as beside:
        with file.open("rb") as source, beside.open("wb") as out:
            while block := source.read(_BLOCK):
                hashed.update(block)
                out.write(block)
            out.flush()
            os.fsync(out.fileno())
        target = path(hashed.hexdigest())
        target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        os.replace(beside, target)
        _sync(target.parent)
    return hashed.hexdigest()


@contextmanager
def incoming() -> Iterator[Path]:
    """A place on the vault's own disk for a file that is still being written; gone afterwards."""
    _root[0].mkdir(mode=0o700, parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=_root[0])
    os.close(handle)
    try:
        yield Path(name)
    finally:
        Path(name).unlink(missing_ok=True)


def _sync(folder: Path) -> None:
    """Have the name on the disk too: a row that names this file may be committed in the next moment."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def get(digest: str) -> bytes:
    """The bytes, checked against their name. Raises FileNotFoundError or Damaged."""
    data = path(digest).read_bytes()
    if hashlib.sha256(data).hexdigest() != digest:
        raise Damaged(f"The stored file {digest[:12]}… was changed on the disk.")
    return data


def remove(digest: str, *, unused_seconds: float) -> bool:
    """Forget a file that nothing names any more; returns whether it is gone.

    One that was put within the last ``unused_seconds`` stays, since its record may still be on the way.
    """
    target = path(digest)
    try:
        if time.time() - target.stat().st_mtime < unused_seconds:
            return False
        target.unlink()
    except FileNotFoundError:
        pass
    return True


def free_bytes() -> int:
    """How much more the disk under the vault can hold."""
    folder = _root[0]
    while not folder.exists():
        folder = folder.parent
    return shutil.disk_usage(folder).free
