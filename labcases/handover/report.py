"""What stands in a handover report, as plain data, and the sentences that follow from it.

The parts answer, one by one, the list of ISO/IEC 17025:2017, 7.8.2.1, and what the trade adds to it: the wanted list
line by line, what was not recovered and why, cautions, how long the lab keeps its copy, the custody record.

>>> best([Answer("P1", "partial", ""), Answer("P2", "whole", "all of it")])
'whole'
>>> tally([Wanted("Photos", (Answer("P1", "whole", ""),)), Wanted("Mail", (Answer("P1", "not", ""),))])
'1 of 2 wanted things whole, 1 not recovered'
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

SIGNS = {"whole": "✓", "partial": "≈", "not": "✕", "unknown": "?", "none": "–"}
WORDS = {"whole": "whole", "partial": "partial", "not": "not recovered", "unknown": "not known", "none": "no result"}
_ORDER = ("whole", "partial", "not", "unknown", "none")


@dataclass(frozen=True)
class Item:
    """A received item: what it is, the condition it came in, and what was told of it."""

    code: str
    what: str
    serial: str
    capacity: str
    state: str
    told: str
    received: datetime | None
    ended: str = ""  # the exit it took, in words, empty when the work came to its end
    ended_why: str = ""


@dataclass(frozen=True)
class Finding:
    code: str
    when: datetime
    faults: str
    found: str
    inside: bool
    by: str


@dataclass(frozen=True)
class Step:
    code: str
    when: datetime
    what: str
    method: str
    change: str
    by: str


@dataclass(frozen=True)
class FilesOfKind:
    """Files of one kind in the lists of what was found, by their state; ``size`` bytes are whole or partial."""

    kind: str
    whole: int
    partial: int
    not_read: int
    unknown: int
    size: int


@dataclass(frozen=True)
class Result:
    """What came of one item. ``share`` is percent of the sectors, floored; empty when not known."""

    code: str
    files: int | None
    size: int | None
    sectors_read: int | None
    sectors_total: int | None
    share: str
    compared: str
    samples: str
    malware_check: str
    not_recovered: str
    kinds: tuple[FilesOfKind, ...] = ()


@dataclass(frozen=True)
class Answer:
    """What became of one wanted line on one item."""

    code: str
    state: str
    words: str

    @property
    def sign(self) -> str:
        return SIGNS[self.state]

    @property
    def said(self) -> str:
        return WORDS[self.state]


@dataclass(frozen=True)
class Wanted:
    what: str
    answers: tuple[Answer, ...] = ()

    @property
    def state(self) -> str:
        return best(self.answers)


@dataclass(frozen=True)
class Part:
    """A donor part that served: which, in which item, and what came of it."""

    what: str
    donor: str
    code: str
    outcome: str


@dataclass(frozen=True)
class Line:
    """One thing counted back. ``fate`` is out, stays or later; ``carries`` when it holds the recovered files."""

    code: str
    what: str
    came: int
    counted: int
    fate: str
    note: str = ""
    carries: bool = False


@dataclass(frozen=True)
class Custody:
    """One line of the custody record."""

    sequence: int
    when: datetime
    code: str
    says: str
    was: str
    now: str
    why: str
    authority: str
    change: str
    by: str
    role: str
    digest: str


@dataclass(frozen=True)
class Collected:
    """Who took it, how they showed who they are, and how they signed."""

    manner: str
    who: str
    as_whom: str
    proof: str
    owners_word: str
    carrier: str
    tracking: str
    seals: tuple[str, ...]
    signature: str  # address of the drawn one, or empty
    signed_how: str
    sample_opened: bool
    checked: bool
    when: datetime


@dataclass(frozen=True)
class Report:
    """Everything the report says."""

    number: int
    customer: Sequence[tuple[str, str]]
    items: Sequence[Item]
    findings: Sequence[Finding]
    steps: Sequence[Step]
    results: Sequence[Result]
    wanted: Sequence[Wanted]
    parts: Sequence[Part]
    lifted: Sequence[str]
    lines: Sequence[Line]
    collected: Collected
    work_authorised: Sequence[str]
    worked: tuple[date, date] | None
    released_by: str
    keeps_copy: bool
    keep_days: int
    keep_until: date
    on_behalf_of: str = ""
    custody: Sequence[Custody] = field(default_factory=tuple)

    @property
    def out(self) -> list[Line]:
        return [line for line in self.lines if line.fate == "out"]

    @property
    def stays(self) -> list[Line]:
        return [line for line in self.lines if line.fate == "stays"]

    @property
    def later(self) -> list[Line]:
        return [line for line in self.lines if line.fate == "later"]

    @property
    def files(self) -> int | None:
        return _sum([result.files for result in self.results])

    @property
    def size(self) -> int | None:
        return _sum([result.size for result in self.results])

    @property
    def changes(self) -> list[Step]:
        return [step for step in self.steps if step.change]

    @property
    def tally(self) -> str:
        return tally(self.wanted)

    @property
    def several(self) -> bool:
        return len(self.items) > 1

    @property
    def cautions(self) -> list[str]:
        """What the customer has to know before they leave (trade notes; common practice, no source)."""
        said = []
        if self.files:
            said.append(
                "Copy the recovered files twice now, onto two other media, and keep one of them in another place."
            )
        if any(not line.carries for line in self.out):
            said.append(
                "Do not use the returned medium again, and run nothing on it: a medium that failed once fails again, "
                "and what is still on it may be lost for good."
            )
        return said


def best(answers: Sequence[Answer]) -> str:
    """The state of a wanted line over all items: the best that any of them gave."""
    found = {answer.state for answer in answers}
    return next((state for state in _ORDER if state in found), "none")


def tally(wanted: Sequence[Wanted]) -> str:
    """The wanted list in one line; empty without a list or without any result."""
    states = [line.state for line in wanted]
    counts = [(WORDS[state], states.count(state)) for state in _ORDER if state in states]
    if not counts or set(states) == {"none"}:
        return ""
    (first, count), *rest = counts
    total = f"{count} of {len(states)} wanted thing{'s' * (len(states) > 1)} {first}"
    return ", ".join([total, *(f"{count} {words}" for words, count in rest)])


def _sum(numbers: Sequence[int | None]) -> int | None:
    known = [number for number in numbers if number is not None]
    return sum(known) if known else None
