"""The slip: what the customer is about to sign, said back in a few lines while it is typed.

It is made of the same plain records that ``log_drive`` takes, so that it never says more than what will be kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from labcases.cases import words
from labcases.cases.intake import NewItem, Told


@dataclass(frozen=True)
class SlipItem:
    """One medium on the slip."""

    number: int
    what: str
    model: str
    serial: str
    state: str
    said: str


@dataclass(frozen=True)
class Slip:
    """The whole slip; empty texts are left out by whoever shows it."""

    owner: str = ""
    bearer: str = ""
    payer: str = ""
    items: tuple[SlipItem, ...] = ()
    said: str = ""
    wanted: tuple[str, ...] = ()
    locks: str = ""
    allows: str = ""
    limit: str = ""
    with_it: tuple[str, ...] = ()


def items_said(items: Sequence[NewItem], kinds: dict[str, str]) -> tuple[SlipItem, ...]:
    """Each item in words; ``kinds`` says the kinds. Items without a kind yet are left out."""
    return tuple(_item(number, item, kinds) for number, item in enumerate(items, 1) if item.kind or item.serial)


def _item(number: int, item: NewItem, kinds: dict[str, str]) -> SlipItem:
    return SlipItem(
        number,
        item.kind_words or kinds.get(item.kind, item.kind) or "kind not said yet",
        " ".join(part for part in (item.maker, item.model) if part),
        item.serial,
        words.said(list(item.marks), words.MARKS),
        words.said(list(item.behaviours), words.BEHAVIOURS),
    )


def story_said(told: Told) -> str:
    """The story in one sentence or two: what happened, when, what was tried, and the customer's own words."""
    happened = words.said([s for s in told.stories if s != "not known"], words.STORIES)
    parts = [
        " ".join(part for part in (happened, told.story_when) if part),
        f"tried since: {words.said(list(told.tried), words.TRIED)}" if _worth_saying(told.tried) else "",
        told.story,
    ]
    return "; ".join(part for part in parts if part)


def _worth_saying(values: Sequence[str]) -> bool:
    return bool(values) and set(values) != {"not known"}


def wanted_said(told: Told) -> tuple[str, ...]:
    """The wanted lines, urgent ones marked."""
    return tuple(f"{line.what} (urgent)" if line.urgent else line.what for line in told.wanted)


def locks_said(told: Told) -> str:
    """Which locks, and whether the customer knows the secret."""
    knows = {
        "yes": "known to the customer",
        "no": "not known to the customer",
        "": "not known whether the customer has it",
    }
    return "; ".join(f"{words.LOCKS[kind]}, {knows[known]}" for kind, known in told.locks)


def allows_said(allows: Sequence[str]) -> str:
    """What the customer allows, in the words of the slip and of the form."""
    said = [ALLOWS[one] for one in allows if one in ALLOWS]
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}" if said else ""


ALLOWS = {
    "examine": "to examine it",
    "open": "to open it for inspection in clean air",
    "keep": "to keep what can never be used again",
}
