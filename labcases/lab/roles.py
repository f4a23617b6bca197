"""Who may do what: roles, rights, and the one table that joins them.

A person may hold several roles; in a one-person lab one log-in holds them all, and the record still says in
which role a step was taken.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum


class Role(StrEnum):
    COUNTER = "counter"
    ENGINEER = "engineer"
    MANAGER = "manager"
    AUDITOR = "auditor"
    WORKER = "worker"  # the lab's own background worker; no person holds it


class Right(StrEnum):
    LOOK = "look"
    TAKE_IN = "take in"
    MOVE = "move and hand over inside the lab"
    PHOTOGRAPH = "photograph things"
    EXAMINE = "examine and work at the bench"
    ASSIGN = "assign from stock"
    KEEP_STOCK = "keep the stockroom"
    TELL = "tell the customer"
    QUOTE = "quote"
    TAKE_MONEY = "take payments"
    WAIVE = "waive money or put it on account"
    HAND_OVER = "hand over to the customer"
    LIFT_STOP = "lift a stop"
    CORRECT = "correct what you recorded yourself"
    CORRECT_ANY = "correct what others recorded, and answer breaks in lines of custody"
    KEEP_LAB = "keep the lab's profile, places and staff"


C, E, M, A = Role.COUNTER, Role.ENGINEER, Role.MANAGER, Role.AUDITOR

MAY: dict[Right, tuple[Role, ...]] = {  # in the order in which a person's roles are tried
    Right.LOOK: (C, E, M, A),
    Right.TAKE_IN: (C, M),
    Right.MOVE: (E, C, M),
    Right.PHOTOGRAPH: (C, E, M),
    Right.EXAMINE: (E,),
    Right.ASSIGN: (E, M),
    Right.KEEP_STOCK: (E, M),
    Right.TELL: (C, E, M),
    Right.QUOTE: (M,),
    Right.TAKE_MONEY: (C, M),
    Right.WAIVE: (M,),
    Right.HAND_OVER: (C, M),
    Right.LIFT_STOP: (M,),
    Right.CORRECT: (M, E, C),
    Right.CORRECT_ANY: (M,),
    Right.KEEP_LAB: (M,),
}
PEOPLE = (C, E, M, A)


def role_for(right: Right, held: Iterable[Role]) -> Role | None:
    """The role in which somebody who holds ``held`` may use this right, or None."""
    mine = set(held)
    return next((role for role in MAY[right] if role in mine), None)


def rights_of(held: Iterable[Role]) -> frozenset[Right]:
    """Everything that somebody who holds these roles may do."""
    mine = set(held)
    return frozenset(right for right, roles in MAY.items() if mine.intersection(roles))
