"""Many who record at once, and writers killed at any moment: the ledger has no gap, no fork, and verifies.

Short in the suite; ``LEDGER_RACES=full`` makes it eight writers of 500 events each, and 200 killed writers.
"""

from __future__ import annotations

import os
import random
import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.db import IntegrityError, connections

from labcases.custody import queries
from labcases.custody.actions import move, recorded
from labcases.custody.appending import actions as appending
from labcases.custody.models import Event, Head, Thing
from labcases.lab.models import Actor, Place
from tests.builders import NOON, Make

AtOnce = Callable[..., list[Any]]
FULL = os.environ.get("LEDGER_RACES") == "full"
WRITERS, EVENTS, KILLS = 8, 500 if FULL else 25, 200 if FULL else 10


@pytest.fixture
def lab(transactional_db: None, tmp_path: Path) -> Iterator[tuple[list[Thing], list[Place], Actor]]:
    """Things to be moved, places to move them to, and somebody who does."""
    before = settings.KEY_DIR
    settings.KEY_DIR = tmp_path / "keys"
    make = Make()
    make.profile()
    things = [item.thing for item in make.case(items=WRITERS).items.all()]
    yield things, [make.place() for _ in range(3)], make.everyone()
    settings.KEY_DIR = before


def writer(thing: Thing, places: list[Place], by: Actor, count: int) -> Callable[[], int]:
    def write() -> int:
        for n in range(count):
            move(thing=thing, to=places[n % len(places)], by=by, happened=NOON)
        return count

    return write


def is_whole() -> int:
    """Every number from 1 on is there once, each event names the one before, and all that verifies. Gives the size."""
    numbers = list(Event.objects.order_by("sequence").values_list("sequence", flat=True))
    assert numbers == list(range(1, len(numbers) + 1))
    found = queries.verify_ledger()
    assert found.findings == []
    assert found.size == Head.objects.get().sequence == len(numbers)
    return found.size


def test_eight_writers_at_once_leave_no_gap_and_no_fork(at_once: AtOnce, lab: Any) -> None:
    things, places, by = lab
    before = Event.objects.count()
    results = at_once(*(writer(thing, places, by, EVENTS) for thing in things))
    assert results == [EVENTS] * WRITERS
    assert is_whole() == before + WRITERS * EVENTS


def test_without_the_lock_on_the_head_two_would_write_one_number_and_the_database_refuses(
    at_once: AtOnce, lab: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The control: each takes the head as it was before either began."""
    things, places, by = lab
    heads = [Head.objects.get() for _ in things]
    monkeypatch.setattr(appending, "_locked_head", heads.pop)
    results = at_once(*(writer(thing, places, by, 1) for thing in things))
    assert sum(isinstance(result, IntegrityError) for result in results) == WRITERS - 1
    monkeypatch.undo()
    is_whole()


# --- killed writers ---------------------------------------------------------------------------------------------------


def forked(write: Callable[[], object]) -> int:
    """A process of its own that writes until it is killed; gives its number. It has connections of its own."""
    connections.close_all()
    pid = os.fork()
    if pid:
        return pid
    signal.alarm(120)  # a fork that waits for a lock of a thread that is not there any more ends, and the test fails
    try:
        while True:
            write()
    finally:  # never back into the tests
        os._exit(3)


def kill_after(pid: int, seconds: float) -> int:
    """The signal that ended it."""
    time.sleep(seconds)
    os.kill(pid, signal.SIGKILL)
    return os.WTERMSIG(os.waitpid(pid, 0)[1])


def test_a_writer_killed_at_any_moment_leaves_a_ledger_that_verifies(lab: Any) -> None:
    """Between kills the next writer goes on where the last one was cut off."""
    things, places, by = lab
    dice = random.Random(KILLS)
    before = size = is_whole()
    for n in range(KILLS):
        write = writer(things[n % WRITERS], places, by, 1_000)
        assert kill_after(forked(write), dice.uniform(0.005, 0.15)) == signal.SIGKILL
        size = is_whole()
    assert size > before
    move(thing=things[0], to=places[0], by=by, happened=NOON)
    assert is_whole() == size + 1


def test_a_writer_killed_between_event_and_commit_leaves_nothing_half_done(
    lab: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The worst moment by intent: the event and the head are written, and the commit never comes."""
    things, places, by = lab
    before = is_whole()

    @recorded
    def cut_off() -> None:
        move(thing=things[0], to=places[0], by=by, happened=NOON)
        assert Event.objects.count() == before + 1
        os.kill(os.getpid(), signal.SIGKILL)

    assert os.WTERMSIG(os.waitpid(forked(cut_off), 0)[1]) == signal.SIGKILL
    assert is_whole() == before
