"""The verbs of reading: keep an upload, take it back, keep a layout, map and judge heads, tie what is wanted, plan.

For a bench computer: ``spantable.read_table`` → ``prepare`` → ``keep_upload`` → ``derive``; and ``note_progress``.
"""

from __future__ import annotations

from labcases.bench.reading.actions.areas import NoArea, drop_area, tie_area
from labcases.bench.reading.actions.heads import judge_head, map_heads
from labcases.bench.reading.actions.layout import keep_layout
from labcases.bench.reading.actions.plans import keep_plan, keep_replan
from labcases.bench.reading.actions.progress import Noted, NotThatMany, note_progress
from labcases.bench.reading.actions.uploads import (
    NoSize,
    Ready,
    UploadedBefore,
    Withdrawn,
    derive,
    derive_waiting,
    keep_upload,
    prepare,
    size_of,
    tidy,
    withdraw_upload,
)

__all__ = [
    "NoArea",
    "NoSize",
    "NotThatMany",
    "Noted",
    "Ready",
    "UploadedBefore",
    "Withdrawn",
    "derive",
    "derive_waiting",
    "drop_area",
    "judge_head",
    "keep_layout",
    "keep_plan",
    "keep_replan",
    "keep_upload",
    "map_heads",
    "note_progress",
    "prepare",
    "size_of",
    "tidy",
    "tie_area",
    "withdraw_upload",
]
