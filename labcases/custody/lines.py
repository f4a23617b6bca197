"""The line of custody of one thing: whether each event begins where the last one ended, and what else cannot be.

ISO/IEC 27037 asks for an unbroken record of who had a thing, where and when. A line is judged event by event, from what
the last event left behind (``Standing``), so that an append costs the same at event 10 and at event 10,000. What does
not fit is a break, with a grade; it is shown until a manager answers it, and after that as answered. An entry that is
made late is none.

>>> counter, shelf, away = Spot("staff:1", None), Spot(None, "place:7"), Spot("party:9", None)
>>> noon = datetime(2026, 3, 2, 12, 0)
>>> line = walk([
...     Step(1, "received", noon, away, counter),
...     Step(2, "moved", noon, counter, shelf),
...     Step(3, "handed-over", noon, counter, away),
... ])
>>> [(broken.event, broken.kind, GRADE_OF[broken.kind]) for broken in line.breaks]
[(3, 'gap', 'grave')]
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from labcases.core.clock import read_rfc3339, rfc3339
from labcases.custody.firsts.beginning import BROUGHT_IN
from labcases.custody.kinds import KINDS

GRAVE, TO_EXPLAIN, NOTE = GRADES = ("grave", "to explain", "note")

GAP, NEVER_IN, ELSEWHERE, AFTER_END, BESIDE = "gap", "never in", "elsewhere", "after its end", "beside the ledger"
POWERED_TWICE, POWER_LEFT_ON, POWER_UNKNOWN = "powered twice", "power left on", "power unknown"
SEAL_TOO_LATE, SEAL_UNKNOWN, SEAL_AGAIN, TIMES = "seal too late", "seal unknown", "seal again", "times"

GRADE_OF = {
    GAP: GRAVE,
    NEVER_IN: GRAVE,
    ELSEWHERE: GRAVE,
    AFTER_END: GRAVE,
    BESIDE: GRAVE,
    POWERED_TWICE: GRAVE,
    SEAL_TOO_LATE: GRAVE,
    SEAL_UNKNOWN: TO_EXPLAIN,
    TIMES: TO_EXPLAIN,
    POWER_UNKNOWN: TO_EXPLAIN,
    SEAL_AGAIN: NOTE,
    POWER_LEFT_ON: NOTE,
}
SENTENCES = {
    GAP: "It was not where the event before had left it: nothing says how it came from there to here.",
    NEVER_IN: "It went out, and no event had brought it in.",
    ELSEWHERE: "Something was done to it in the lab while it was outside: it cannot have been in two places at once.",
    AFTER_END: "Something was done to it after it was destroyed.",
    BESIDE: "Since this event its row says that it is somewhere else: it was changed past the ledger.",
    POWERED_TWICE: "A power session began before the one before had ended: it cannot run in two places at once.",
    SEAL_TOO_LATE: "Seal {detail} was put on after it had been broken.",
    SEAL_UNKNOWN: "Seal {detail} was broken, and nothing says that it was put on.",
    TIMES: "It says that it happened before the thing could have been there.",
    POWER_UNKNOWN: "A power session ended that had not begun.",
    SEAL_AGAIN: "Seal {detail} was put on, and it was on already.",
    POWER_LEFT_ON: "It went elsewhere, and its power session had not been ended.",
}


@dataclass(frozen=True)
class Spot:
    """Where a thing is, in the ledger's own ids: who has it, and the place of the lab where it lies."""

    holder: str | None = None
    place: str | None = None

    @classmethod
    def read(cls, refs: Mapping[str, Any] | None) -> Spot:
        """From an event's *from* or *to*."""
        return cls((refs or {}).get("holder"), (refs or {}).get("place"))

    @property
    def in_the_lab(self) -> bool:
        return self.place is not None or (self.holder or "").startswith("staff:")

    @property
    def outside(self) -> bool:
        return (self.holder or "").startswith("party:")


@dataclass(frozen=True)
class Step:
    """One event, as far as the line of its thing is concerned."""

    sequence: int
    kind: str
    happened: datetime
    was: Spot = Spot()
    now: Spot = Spot()
    seals: tuple[str, ...] = ()
    role: str = ""
    corrects: int | None = None

    @classmethod
    def read(cls, body: Mapping[str, Any]) -> Step:
        """From the body of an event."""
        return cls(
            sequence=body["sequence"],
            kind=body["kind"],
            happened=read_rfc3339(body["happened"]),
            was=Spot.read(body["from"]),
            now=Spot.read(body["to"]),
            seals=tuple(body["seals"]),
            role=body["role"],
            corrects=body["corrects"],
        )

    @property
    def moves(self) -> bool:
        return self.was != self.now

    @property
    def answers(self) -> int | None:
        """The event whose breaks this one answers: only a manager's correction does."""
        return self.corrects if self.kind == "corrected" and self.role == "manager" else None


@dataclass(frozen=True)
class Break:
    """What does not fit, and the event at which it shows. ``detail`` is a seal's number, or empty."""

    event: int
    kind: str
    detail: str = ""

    @property
    def grade(self) -> str:
        return GRADE_OF[self.kind]


@dataclass(frozen=True)
class Standing:
    """What the line of a thing says so far: all that the next event is judged by."""

    at: Spot = Spot()
    since: datetime | None = None
    came: datetime | None = None  # when it was in the lab for the first time
    been_in: bool = False
    ended: bool = False
    seals: tuple[str, ...] = ()
    broken: Mapping[str, str] = field(default_factory=dict)  # a seal's number, and when it was broken
    powered: int | None = None  # the event that began the open power session

    def as_record(self) -> dict[str, Any]:
        """Plain values, as they are kept on the thing; empty ones are left out."""
        said = {
            "holder": self.at.holder,
            "place": self.at.place,
            "since": rfc3339(self.since) if self.since else None,
            "came": rfc3339(self.came) if self.came else None,
            "been_in": self.been_in,
            "ended": self.ended,
            "seals": list(self.seals),
            "broken": dict(self.broken),
            "powered": self.powered,
        }
        return {"v": 1} | {name: value for name, value in said.items() if value}

    @classmethod
    def from_record(cls, said: Mapping[str, Any]) -> Standing | None:
        """None when nothing is kept yet."""
        if not said:
            return None
        return cls(
            at=Spot.read(said),
            since=read_rfc3339(said["since"]) if "since" in said else None,
            came=read_rfc3339(said["came"]) if "came" in said else None,
            been_in=said.get("been_in", False),
            ended=said.get("ended", False),
            seals=tuple(said.get("seals", ())),
            broken=said.get("broken", {}),
            powered=said.get("powered"),
        )


@dataclass
class Line:
    """A whole line: how it stands at its end, its breaks, and which event answers which."""

    standing: Standing | None = None
    breaks: list[Break] = field(default_factory=list)
    answered: dict[int, int] = field(default_factory=dict)


def walk(steps: Iterable[Step]) -> Line:
    """Judge a line from its beginning."""
    line = Line()
    for step in steps:
        line.standing, found = judge(line.standing, step)
        line.breaks += found
        if step.answers is not None:
            line.answered[step.answers] = step.sequence
    return line


def judge(before: Standing | None, step: Step) -> tuple[Standing, list[Break]]:
    """How the line stands after this event, and which breaks show at it. ``before`` is None for a thing's first one."""
    known = before or Standing(at=step.was, been_in=step.was.in_the_lab)
    found = [Break(step.sequence, kind) for kind in _about_places(known, step)]
    after, more = _power(known, step)
    after, seals = _seals(after, step)
    found += [*more, *seals]
    undone = step.kind == "corrected" and step.moves
    ended = step.kind == "destroyed" or (known.ended and not undone)
    return _moved(replace(after, ended=ended), step), found


def _moved(known: Standing, step: Step) -> Standing:
    """Where the event leaves it."""
    if step.moves:
        known = replace(known, since=max(known.since, step.happened) if known.since else step.happened)
    if step.now.in_the_lab and not known.been_in:
        known = replace(known, been_in=True, came=step.happened)
    return replace(known, at=step.now)


def _about_places(known: Standing, step: Step) -> Iterator[str]:
    """Breaks in where it was; a correction says itself how things really were."""
    if step.was != known.at and not known.ended:
        yield GAP
    if step.kind == "corrected":
        return
    if known.ended:
        yield AFTER_END
    elif step.moves and step.now.outside and step.kind != BROUGHT_IN and not (known.been_in and known.at.in_the_lab):
        yield NEVER_IN
    elif KINDS[step.kind].touch and known.at.outside and known.since and step.happened >= known.since:
        yield ELSEWHERE
    if _before_it_could(known, step):
        yield TIMES


def _before_it_could(known: Standing, step: Step) -> bool:
    """It moved on before it had come, or was worked on before it had ever been here. Late entry alone is neither."""
    if step.moves:
        return known.since is not None and step.happened < known.since
    return KINDS[step.kind].touch and known.came is not None and step.happened < known.came


def _power(known: Standing, step: Step) -> tuple[Standing, list[Break]]:
    if step.kind == "power-begun":
        found = [Break(step.sequence, POWERED_TWICE)] if known.powered else []
        return replace(known, powered=step.sequence), found
    if step.kind == "power-ended":
        return replace(known, powered=None), [] if known.powered else [Break(step.sequence, POWER_UNKNOWN)]
    if known.powered and step.moves and step.kind != "corrected":
        return replace(known, powered=None), [Break(step.sequence, POWER_LEFT_ON)]
    return known, []


def _seals(known: Standing, step: Step) -> tuple[Standing, list[Break]]:
    """Any event may name seals: they are put on with it, unless it says that they were broken."""
    on, broken, found = list(known.seals), dict(known.broken), []
    for number in dict.fromkeys(step.seals):
        if step.kind == "seal-broken":
            if number not in on:
                found.append(Break(step.sequence, SEAL_UNKNOWN, number))
            on = [other for other in on if other != number]
            broken[number] = rfc3339(step.happened)
        elif number in on:
            found.append(Break(step.sequence, SEAL_AGAIN, number))
        else:
            if number in broken and read_rfc3339(broken[number]) < step.happened:
                found.append(Break(step.sequence, SEAL_TOO_LATE, number))
            else:
                broken.pop(number, None)
            on.append(number)
    return replace(known, seals=tuple(on), broken=broken), found
