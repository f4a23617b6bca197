"""A clock that can be set back: three months of history are made through real actions, each at its own moment."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import Any


@contextmanager
def set_to(moment: datetime, clock: Any) -> Iterator[None]:
    """While this lasts ``clock.now()`` says ``moment`` (``clock`` is the module that everybody asks)."""
    real = clock.now
    clock.now = lambda: moment
    try:
        yield
    finally:
        clock.now = real
