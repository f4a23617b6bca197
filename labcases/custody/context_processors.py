"""What pages know of the ledger."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from labcases.custody.queries import failed_check


def ledger(request: HttpRequest) -> dict[str, Any]:
    """``failed_check``: asked for only by a page that shows it, so no other page pays the query."""
    return {"failed_check": failed_check}
