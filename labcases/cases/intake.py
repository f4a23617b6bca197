"""What is told and seen at the counter, as plain records, and what is still missing of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from labcases.cases.scans.judging import Scan


@dataclass(frozen=True)
class NewItem:
    """One medium as it lies on the counter. Blank and None mean not known; the kind is never blank."""

    kind: str
    kind_words: str = ""
    maker: str = ""
    model: str = ""
    serial: str = ""
    firmware: str = ""
    interface: str = ""
    sectors: int | None = None
    sector_bytes: int | None = None
    made: date | None = None
    board_number: str = ""
    label_codes: str = ""
    slot: str = ""
    marks: Sequence[str] = ()
    behaviours: Sequence[str] = ()
    note: str = ""


@dataclass(frozen=True)
class WantedLine:
    what: str
    urgent: bool = False


@dataclass(frozen=True)
class Told:
    """The story, what is wanted, and which locks there are (never a secret)."""

    stories: Sequence[str] = ()
    story: str = ""
    story_when: str = ""
    tried: Sequence[str] = ()
    powered_since: str = ""
    wanted_about: str = ""
    partial_is_worth: str = ""
    wanted: Sequence[WantedLine] = ()
    locks: Sequence[tuple[str, str]] = ()  # (kind, "yes" | "no" | "" whether the customer knows it)


@dataclass(frozen=True)
class Signed:
    """What was allowed, and how it was signed.

    ``signature`` is a PNG drawn on screen, empty when signed on paper; ``scan`` is that paper, when it is at hand.
    """

    signed_by: str
    how: str = "paper"  # paper, screen, mark, read aloud
    signature: bytes = field(default=b"", repr=False)
    may_examine: bool = True
    may_open: bool = False
    may_keep_dead: bool = False
    spending_limit: int | None = None
    scan: Scan | None = None


def missing(case: Any, items: Sequence[Any], *, wanted: int) -> list[str]:
    """What is still to be asked, in the order of the form. Empty: the intake is finished.

    "Not known" is an answer: only what nobody has asked yet is missing.
    """
    open_parts = []
    if not all(item.marks for item in items):
        open_parts.append("state seen")
    if not all(item.behaviours for item in items):
        open_parts.append("behaviour")
    if not case.stories:
        open_parts.append("story")
    if not wanted:
        open_parts.append("wanted")
    if case.terms_signed is None:
        open_parts.append("terms signed")
    return open_parts
