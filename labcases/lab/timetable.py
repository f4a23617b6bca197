"""What the worker does by itself, and how often. Rooms add their jobs when they start.

A job is a function of no arguments that may safely run twice; due jobs are claimed in the database
(``lab.actions.claim_job``) so that several workers never run one at the same time.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta


@dataclass(frozen=True)
class Job:
    """One line of the timetable. ``lease`` is how long a worker may be silent before another takes the job up."""

    name: str
    every: timedelta
    run: Callable[[], object]
    lease: timedelta = timedelta(minutes=5)


JOBS: dict[str, Job] = {}


def add(name: str, *, every: timedelta, run: Callable[[], object], lease: timedelta = timedelta(minutes=5)) -> None:
    """Put a job on the timetable (again, under the same name: the later one counts)."""
    JOBS[name] = Job(name, every, run, lease)
