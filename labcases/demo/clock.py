"""A clock that can be set back: three months of history are made through real actions, each at its own moment."""

from __future__ import annotations

import gc
import logging
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


@contextmanager
def without_pauses() -> Iterator[None]:
    """While this lasts rubbish is seldom collected: thousands of records are made, and hardly one is thrown away."""
    before = gc.get_threshold()
    gc.set_threshold(200_000, 50, 100)
    try:
        yield
    finally:
        gc.set_threshold(*before)


@contextmanager
def quietly(name: str) -> Iterator[None]:
    """While this lasts the log of this name says nothing: what goes wrong there is part of the story."""
    log = logging.getLogger(name)
    log.disabled = True
    try:
        yield
    finally:
        log.disabled = False
