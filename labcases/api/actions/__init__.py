"""The verbs around bench computers: admit and revoke; take a part, put the parts together."""

from __future__ import annotations

from labcases.api.actions.tokens import (
    KNOCKS,
    STRETCH,
    AnotherContent,
    NotAdmitted,
    admit,
    digest_of,
    knocked,
    once,
    revoke,
    seen,
)
from labcases.api.actions.transfers import (
    MOST_PART,
    MOST_PARTS,
    NotWhole,
    finish_coverage,
    finish_files,
    take_part,
    tidy,
)

__all__ = [
    "KNOCKS",
    "MOST_PART",
    "MOST_PARTS",
    "STRETCH",
    "AnotherContent",
    "NotAdmitted",
    "NotWhole",
    "admit",
    "digest_of",
    "finish_coverage",
    "finish_files",
    "knocked",
    "once",
    "revoke",
    "seen",
    "take_part",
    "tidy",
]
