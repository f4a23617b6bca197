"""The verbs around lists of files."""

from __future__ import annotations

from labcases.bench.files.actions.lists import (
    FileListRefused,
    derive,
    derive_waiting,
    read_list,
    read_waiting,
    receive,
    tidy,
    withdraw_list,
)
from labcases.bench.files.actions.marks import (
    NoSuchFile,
    drop_tie,
    note_sample,
    take,
    tie_wanted,
)

__all__ = [
    "FileListRefused",
    "NoSuchFile",
    "derive",
    "derive_waiting",
    "drop_tie",
    "note_sample",
    "read_list",
    "read_waiting",
    "receive",
    "take",
    "tidy",
    "tie_wanted",
    "withdraw_list",
]
