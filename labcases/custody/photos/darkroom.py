"""Where pictures are made ready: one at a time in each web process, behind everything else the machine has to do.

That bounds memory to one picture, and a page that a colleague waits for goes first. Only a few may wait in line,
so that photos never hold all the threads that answer requests; who comes then is told to come again shortly.
"""

from __future__ import annotations

import os
import sys
import threading
from concurrent.futures import ThreadPoolExecutor

from labcases.custody.photos.pictures import Taken, take_in

IN_LINE = 2  # the one in work and one that waits
PATIENCE = 10  # how far behind the rest, as ``nice`` counts


class Busy(Exception):
    """As many pictures as may wait are waiting."""


def _step_back() -> None:
    """Linux gives every thread a priority of its own; elsewhere the thread stays as it is."""
    if sys.platform == "linux":
        os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), PATIENCE)


_hand = ThreadPoolExecutor(1, thread_name_prefix="darkroom", initializer=_step_back)
_line = threading.BoundedSemaphore(IN_LINE)


def develop(data: bytes) -> Taken:
    """``pictures.take_in``, in its turn. Raises NotAPicture, or Busy when the line is full."""
    if not _line.acquire(blocking=False):
        raise Busy
    try:
        return _hand.submit(take_in, data).result()
    finally:
        _line.release()
