"""Things and the ledger: what exists, where it is, who had it, and the proof.

``custody.record`` is the one door to the ledger; it lives in ``custody.actions``.
"""

from __future__ import annotations

from typing import Any


def __getattr__(name: str) -> Any:
    # Looked up late: a package that imports its models cannot be loaded as an app.
    if name in ("record", "record_many", "recorded"):
        from labcases.custody import actions

        return getattr(actions, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
