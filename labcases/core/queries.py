"""What is remembered between two tables of the same layout."""

from __future__ import annotations

from collections.abc import Sequence

from labcases.core import importing
from labcases.core.models import ColumnLayout


def remembered(purpose: str, headers: Sequence[str]) -> dict[str, int] | None:
    """The columns that were chosen when a table with these headers came in last; None when none did."""
    kept = ColumnLayout.objects.filter(purpose=purpose, signature=importing.signature(headers)).first()
    return dict(kept.mapping) if kept else None
