"""The one-time address where the first manager of a new lab is made.

A secret in a file that only the lab's own user can read; whoever starts the server is shown it. Spending it
renames the file, which only one of two simultaneous presses can do.
"""

from __future__ import annotations

import contextlib
import os
import secrets
from collections.abc import Iterator
from pathlib import Path

NAME = "first-manager"


def token_for(key_dir: Path) -> str:
    """The secret, made at the first call."""
    path = key_dir / NAME
    key_dir.mkdir(mode=0o700, parents=True, exist_ok=True)
    with contextlib.suppress(FileExistsError):
        handle = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
        with os.fdopen(handle, "w") as file:
            file.write(secrets.token_urlsafe(32))
    return path.read_text()


def is_right(key_dir: Path, token: str) -> bool:
    """True when the secret exists, unspent, and is this one."""
    try:
        wanted = (key_dir / NAME).read_text()
    except FileNotFoundError:
        return False
    return bool(wanted) and secrets.compare_digest(wanted.encode(), token.encode())


@contextlib.contextmanager
def spending(key_dir: Path) -> Iterator[bool]:
    """Take the secret away for the time of the block; gives False when somebody else was faster.

    It is gone for good when the block ends well, and put back when it raises.
    """
    path, taken = key_dir / NAME, key_dir / f"{NAME}.{secrets.token_hex(8)}"
    try:
        path.rename(taken)
    except FileNotFoundError:
        yield False
        return
    try:
        yield True
    except BaseException:
        taken.rename(path)
        raise
    taken.unlink()
