"""The way of an item, as data: its stages, which follows which, and what must be true before.

The order is the trade's: received, examined, quoted, authorised, in work, checked, ready, handed over, closed.
An exit (declined, unrecoverable, withdrawn, abandoned) still ends in a handover, or in a signed disposal, which is
recorded as a handover too: nothing that came in leaves without a line.

>>> Stage.EXAMINED in EDGES[Stage.RECEIVED]
True
>>> least_advanced([Stage.CHECKED, Stage.QUOTED])
<Stage.QUOTED: 'quoted'>
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from labcases.cases.facts import Facts


class Stage(StrEnum):
    EXPECTED = "expected"
    RECEIVED = "received"
    EXAMINED = "examined"
    QUOTED = "quoted"
    AUTHORISED = "authorised"
    IN_WORK = "in work"
    CHECKED = "checked"
    READY = "ready"
    DECLINED = "declined"
    UNRECOVERABLE = "unrecoverable"
    WITHDRAWN = "withdrawn"
    ABANDONED = "abandoned"
    HANDED_OVER = "handed over"
    CLOSED = "closed"
    NEVER_CAME = "never came"


S = Stage
WAY = (S.RECEIVED, S.EXAMINED, S.QUOTED, S.AUTHORISED, S.IN_WORK, S.CHECKED, S.READY, S.HANDED_OVER, S.CLOSED)
EXITS = (S.DECLINED, S.UNRECOVERABLE, S.WITHDRAWN, S.ABANDONED)
ENDED = frozenset({S.CLOSED, S.NEVER_CAME})

EDGES: dict[Stage, frozenset[Stage]] = {
    S.EXPECTED: frozenset({S.RECEIVED, S.NEVER_CAME}),
    S.RECEIVED: frozenset({S.EXAMINED, S.WITHDRAWN, S.ABANDONED, S.UNRECOVERABLE}),
    S.EXAMINED: frozenset({S.QUOTED, S.AUTHORISED, S.UNRECOVERABLE, S.WITHDRAWN, S.ABANDONED}),
    S.QUOTED: frozenset({S.AUTHORISED, S.DECLINED, S.EXAMINED, S.UNRECOVERABLE, S.WITHDRAWN, S.ABANDONED}),
    S.AUTHORISED: frozenset({S.IN_WORK, S.EXAMINED, S.WITHDRAWN, S.ABANDONED, S.UNRECOVERABLE}),
    S.IN_WORK: frozenset({S.CHECKED, S.EXAMINED, S.UNRECOVERABLE, S.WITHDRAWN, S.ABANDONED}),
    S.CHECKED: frozenset({S.READY, S.IN_WORK, S.WITHDRAWN, S.ABANDONED}),
    S.READY: frozenset({S.HANDED_OVER, S.IN_WORK, S.ABANDONED}),
    S.DECLINED: frozenset({S.HANDED_OVER, S.QUOTED, S.ABANDONED}),
    S.UNRECOVERABLE: frozenset({S.HANDED_OVER, S.EXAMINED, S.ABANDONED}),
    S.WITHDRAWN: frozenset({S.HANDED_OVER, S.RECEIVED, S.ABANDONED}),
    S.ABANDONED: frozenset({S.HANDED_OVER, S.RECEIVED}),
    S.HANDED_OVER: frozenset({S.CLOSED, S.RECEIVED}),
    S.CLOSED: frozenset({S.RECEIVED}),  # brought back: the case is opened again
    S.NEVER_CAME: frozenset({S.RECEIVED}),
}
_ORDER = {stage: place for place, stage in enumerate(Stage)}


@dataclass(frozen=True)
class Guard:
    """A condition on entering a stage. ``lift`` is what makes it true, said to the person who is stopped."""

    holds: Callable[[Facts], bool]
    because: str
    lift: str


def _nobody_disputes(facts: Facts) -> bool:
    return not facts.disputed and not facts.legal_hold


_RELEASE = (
    Guard(
        _nobody_disputes,
        "Ownership is disputed or the law holds it.",
        "Settle the dispute or end the hold first, on record.",
    ),
    Guard(
        lambda f: f.money_settled,
        "There is money to settle.",
        "Take the payment, put it on account, or let a manager waive it.",
    ),
)
# Stands before every step but those of custody: the commonest way to lose a customer's data.
RIGHT_ITEM = Guard(
    lambda f: not f.wrong_item,
    "It is the wrong item: what it says of itself is not what was taken in.",
    "Find the right one, or let a manager lift the stop with a reason.",
)
_PRESENT = Guard(lambda f: f.in_the_lab, "The item is not in the lab.", "Receive it first.")
_LAWFUL = Guard(lambda f: not f.legal_hold, "The law holds it.", "End the hold first, on record.")

GUARDS: dict[Stage, tuple[Guard, ...]] = {
    S.EXAMINED: (
        _PRESENT,
        _LAWFUL,
        Guard(
            lambda f: f.may_examine,
            "The customer has not allowed the examination.",
            "Have the terms signed at the counter.",
        ),
    ),
    S.QUOTED: (Guard(lambda f: f.examined, "It has not been examined.", "Record the findings first."),),
    S.AUTHORISED: (
        Guard(
            lambda f: f.authorised,
            "No authority is on file.",
            "Record the customer's yes to the quote, or agree a spending limit.",
        ),
    ),
    S.IN_WORK: (
        _PRESENT,
        _LAWFUL,
        Guard(lambda f: f.authorised, "No authority is on file.", "Record the customer's yes first."),
    ),
    S.CHECKED: (
        Guard(lambda f: f.result_checked, "No result is on file.", "Record what was recovered and how it was checked."),
    ),
    S.READY: (
        Guard(lambda f: f.result_checked, "The result was not checked.", "Open samples of each wanted kind first."),
    ),
    S.HANDED_OVER: _RELEASE,
}


def stops(now: Stage, to: Stage, facts: Facts) -> list[Guard]:
    """What stands between an item and a stage; empty when it may go there. Raises NoSuchWay when no way leads there."""
    if to not in EDGES[now]:
        raise NoSuchWay(f"There is no way from “{now}” to “{to}”.")
    return [guard for guard in (RIGHT_ITEM, *GUARDS.get(to, ())) if not guard.holds(facts)]


class NoSuchWay(ValueError):
    """The stage asked for does not follow the present one."""


def least_advanced(stages: Iterable[Stage]) -> Stage:
    """What a case shows for all its items: the least advanced one that is open, or the last when all are ended."""
    listed = list(stages)
    still_open = [stage for stage in listed if stage not in ENDED]
    return min(still_open or listed, key=_ORDER.__getitem__)
