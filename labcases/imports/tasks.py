"""What the worker does for imports: the next chunks, and forgetting old files."""

from __future__ import annotations

import time
from datetime import timedelta

from django.utils import timezone

from labcases.imports import actions
from labcases.imports.models import Import

SLICE_SECONDS = 8.0  # then other jobs of the worker have their turn
KEPT = timedelta(days=30)


def go_on(seconds: float = SLICE_SECONDS) -> int:
    """Do chunks of the imports at work, the oldest first, until the time is over. Returns how many were done."""
    over, done = time.monotonic() + seconds, 0
    for table in Import.objects.filter(state__in=Import.WORKING).order_by("pk"):
        while time.monotonic() < over and actions.step(table):
            done += 1
    return done


def sweep() -> int:
    """Forget files of imports that ended long ago."""
    return actions.sweep(timezone.now() - KEPT)
