"""With which words the line of a thing begins that came in with a batch.

Such a thing is there before its first event is. Whatever is recorded of it in between asks here, so that its line
begins with how it came, and nothing else.

>>> before, _say[:] = _say[:], []
>>> say_of_batches(lambda batch: Beginning("Ada", datetime(2026, 3, 2), "import 7") if batch == 7 else None)
>>> beginning_of(7).because, beginning_of(8)
('import 7', None)
>>> _say[:] = before
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

BROUGHT_IN = "brought-in"


@dataclass(frozen=True)
class Beginning:
    """Who brought a thing in, when, and with what."""

    by: Any
    happened: datetime
    because: str


Say = Callable[[int], Beginning | None]
_say: list[Say] = []


def say_of_batches(say: Say) -> None:
    """Make known who can say how the things of a batch came. The room that makes batches calls it when it starts."""
    if say not in _say:
        _say.append(say)


def beginning_of(batch: int) -> Beginning | None:
    """How the things of this batch came; None when nobody knows."""
    return next((found for say in _say if (found := say(batch))), None)
