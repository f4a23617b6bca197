"""A file that was named to a command, or what was piped into it; never more than a command can use."""

from __future__ import annotations

import sys
from pathlib import Path

from django.core.management.base import CommandError


def read_bounded(name: str, most: int) -> bytes:
    """The bytes of a file (``-``: what is piped in). Raises CommandError when it cannot be read or is too long."""
    if name == "-":
        given = sys.stdin.buffer.read(most + 1)
    else:
        try:
            with Path(name).open("rb") as file:
                given = file.read(most + 1)
        except OSError as trouble:
            raise CommandError(f"{name} cannot be read: {trouble.strerror}.") from None
    if len(given) > most:
        raise CommandError(f"It is too long: more than {most // 1024} KiB, and one page is meant.")
    return given
