"""The stage rail: which stamps an item carries, which stage is open, what is still to come.

>>> from datetime import datetime
>>> noon = datetime(2026, 3, 2, 12)
>>> rail = stamps_of([(Stage.RECEIVED, noon), (Stage.EXAMINED, noon)], Stage.EXAMINED)
>>> [(stamp.word, stamp.state) for stamp in rail][:3]
[('received', 'done'), ('examined', 'now'), ('quoted', 'todo')]
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from labcases.cases.stages import ENDED, EXITS, WAY, Stage

SHOWN = tuple(stage for stage in WAY if stage is not Stage.CLOSED)


@dataclass(frozen=True)
class Stamp:
    """One stage on the rail; ``state`` is done, now, todo or ended."""

    word: str
    state: str
    when: datetime | None = None
    note: str = ""


@dataclass(frozen=True)
class Rail:
    """One line: whose it is, and its stamps."""

    label: str
    code: str
    stamps: tuple[Stamp, ...]


def stamps_of(history: Sequence[tuple[Stage, datetime]], now: Stage) -> tuple[Stamp, ...]:
    """The rail of one item from its dated stages in the order in which they were reached.

    When an item went back, the stamps it lost are left out: they stand in the day-book.
    """
    reached = _still_standing(history)
    rail = [_passed(stage, when, now) for stage, when in reached]
    if now is Stage.NEVER_CAME:
        return tuple(rail)
    last = max((SHOWN.index(stage) for stage, _ in reached if stage in SHOWN), default=-1)
    to_come = [Stage.HANDED_OVER] if now in EXITS else SHOWN[last + 1 :] if now not in ENDED else ()
    if now is Stage.EXPECTED:
        rail[-1:] = [Stamp(str(now), "now", reached[-1][1] if reached else None)]
    return tuple(rail) + tuple(Stamp(str(stage), "todo") for stage in to_come if stage is not now)


def _passed(stage: Stage, when: datetime, now: Stage) -> Stamp:
    if stage is now and stage not in ENDED and stage is not Stage.HANDED_OVER:
        return Stamp(str(stage), "ended" if stage in EXITS else "now", when)
    return Stamp(str(stage), "done", when)


def _still_standing(history: Sequence[tuple[Stage, datetime]]) -> list[tuple[Stage, datetime]]:
    standing: list[tuple[Stage, datetime]] = []
    for stage, when in history:
        if stage is Stage.CLOSED:
            continue
        if stage in SHOWN:  # going back takes the later stamps away
            place = SHOWN.index(stage)
            standing = [(s, w) for s, w in standing if s in SHOWN and SHOWN.index(s) < place]
        standing.append((stage, when))
    return standing


def rails_of(items: Sequence[tuple[str, str, Sequence[tuple[Stage, datetime]], Stage]]) -> list[Rail]:
    """One rail an item, given (label, code, history, stage) of each; one for all where they agree."""
    rails = [Rail(label, code, stamps_of(history, now)) for label, code, history, now in items]
    if len(rails) > 1 and len({tuple((s.word, s.state) for s in rail.stamps) for rail in rails}) == 1:
        return [Rail(f"all {len(rails)} items", "", rails[0].stamps)]
    return rails
