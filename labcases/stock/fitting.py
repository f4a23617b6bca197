"""Which destination may take a patient's data, and whether it is large enough: in sectors and bytes, with reasons.

Two questions, answered apart. **May it be used?** A medium that held one customer's data never goes to another
case before its wipe is verified; new and sealed counts as wiped; the same case may use its own again; a retired
one never. A customer's own medium serves its own case only, with consent on record, and is never wiped. **Is it
large enough?** Whole numbers only: printed gigabytes do not say which of two media is larger. Where the sector
sizes differ, bytes decide, and the translation is recorded and warned of, not refused.

>>> need = Need(sectors=1_953_525_168, sector_bytes=512, case="26-00041")
>>> larger = Room("S-7", 244_190_646, 4096, State.WIPED, healthy=True)
>>> answer = fits(need, larger)
>>> answer.fits, answer.translation, answer.spare_bytes
(True, (512, 4096), 0)
>>> answer.warnings[0]
'Sector sizes differ: 512 bytes on the patient, 4,096 on the destination. What reads the copy may need a translation.'

One sector short is too small, whatever is printed on it:

>>> small = Room("S-8", 1_953_525_167, 512, State.NEW)
>>> fits(need, small).headline
'Too small: 1,953,525,168 sectors of 512 bytes are needed, there are 1,953,525,167 (1 too few).'
>>> [f.key for f in best(need, [small, Room("S-9", 3_907_029_168, 512, State.NEW), larger])]
['S-7', 'S-9']
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any


class State(StrEnum):
    """Where a destination or delivery medium is in its life."""

    NEW = "new and sealed"
    WIPED = "wiped and verified"
    ASSIGNED = "assigned"
    HOLDS = "holds customer data"
    KEPT = "kept"
    WIPING = "being wiped"
    NOT_VERIFIED = "wiped, not verified"
    POOL = "storage pool"
    RETIRED = "retired"
    GONE = "handed out"


OVERWRITTEN = frozenset({State.HOLDS, State.KEPT, State.NOT_VERIFIED})
HOLDING = OVERWRITTEN | {State.ASSIGNED}


@dataclass(frozen=True, slots=True)
class Need:
    """What has to be held.

    ``sectors`` is None where the patient does not say its size. ``planned_bytes`` is what the plan reads, where
    that is less than the whole; ``planned_end`` is the number of the first sector past the last one it reads.
    """

    sectors: int | None
    sector_bytes: int
    case: str
    planned_bytes: int | None = None
    planned_end: int | None = None

    def __post_init__(self) -> None:
        _whole("The patient's sectors", self.sectors, least=1)
        _whole("The patient's sector size", self.sector_bytes, least=1)
        _whole("What the plan reads", self.planned_bytes, least=0)
        _whole("The end of what the plan reads", self.planned_end, least=1)
        if not self.case:
            raise ValueError("A need belongs to a case.")
        if self.bytes is not None and (self.planned_bytes or 0) > self.bytes:
            raise ValueError(f"The plan reads {self.planned_bytes:,} bytes, and the patient has {self.bytes:,}.")
        if self.sectors is not None and (self.planned_end or 0) > self.sectors:
            raise ValueError(f"The plan reads up to sector {self.planned_end:,}, and the patient has {self.sectors:,}.")

    @property
    def bytes(self) -> int | None:
        """The whole patient in bytes, None where it is not known."""
        return None if self.sectors is None else self.sectors * self.sector_bytes


@dataclass(frozen=True, slots=True)
class Room:
    """A destination, a delivery medium, or free space on a storage pool.

    ``held_for`` is the case it is assigned to, or whose data it holds or held. ``owned_by`` is the case whose
    customer brought it, None for the lab's own; ``consent`` says whether that customer's written consent to use
    it is on record. ``files``: the copy is kept as image files, so that places and sector sizes do not matter.
    ``healthy`` is the last health check: passed, failed, or None for not checked.
    """

    key: Hashable
    sectors: int | None
    sector_bytes: int
    state: State
    held_for: str | None = None
    owned_by: str | None = None
    consent: bool = False
    files: bool = False
    healthy: bool | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "state", State(self.state))
        _whole("The destination's sectors", self.sectors, least=0)
        _whole("The destination's sector size", self.sector_bytes, least=1)

    @property
    def bytes(self) -> int | None:
        """Capacity in bytes, None where it is not known."""
        return None if self.sectors is None else self.sectors * self.sector_bytes

    @property
    def keeps_files(self) -> bool:
        """Whether the copy is a file and not the medium itself."""
        return self.files or self.state is State.POOL


@dataclass(frozen=True, slots=True)
class Fit:
    """Whether a room takes a need. ``refusals`` say why not, ``notes`` why, ``warnings`` what to mind."""

    need: Need
    room: Room
    refusals: tuple[str, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]

    @property
    def fits(self) -> bool:
        """Whether it may be used and is large enough."""
        return not self.refusals

    @property
    def key(self) -> Hashable:
        """The room's key."""
        return self.room.key

    @property
    def reasons(self) -> tuple[str, ...]:
        """Every sentence: why not, why, what to mind."""
        return (*self.refusals, *self.notes, *self.warnings)

    @property
    def headline(self) -> str:
        """The answer in one sentence."""
        return self.refusals[0] if self.refusals else self.notes[-1]

    @property
    def translation(self) -> tuple[int, int] | None:
        """(patient's, destination's) sector size where they differ, else None: to be recorded."""
        sizes = (self.need.sector_bytes, self.room.sector_bytes)
        return None if self.room.keeps_files or sizes[0] == sizes[1] else sizes

    @property
    def spare_bytes(self) -> int | None:
        """Bytes left over after what has to be held; negative if too small, None if not known."""
        wanted = _wanted_bytes(self.need)
        return None if wanted is None or self.room.bytes is None else self.room.bytes - wanted

    def as_record(self) -> dict[str, Any]:
        """The answer as JSON-able data, to be kept with the assignment."""
        return {
            "fits": self.fits,
            "headline": self.headline,
            "refusals": list(self.refusals),
            "notes": list(self.notes),
            "warnings": list(self.warnings),
            "translation": list(self.translation) if self.translation else None,
            "spare_bytes": self.spare_bytes,
        }


def fits(patient: Need, destination: Room) -> Fit:
    """Whether a destination may take this patient's data and is large enough, and why."""
    answer = _Answer()
    _ask_owner(patient, destination, answer)
    _ask_state(patient, destination, answer)
    _ask_health(destination, answer)
    _ask_size(patient, destination, answer)
    return Fit(patient, destination, tuple(answer.refusals), tuple(answer.notes), tuple(answer.warnings))


def holds_files(patient: Need, destination: Room) -> Fit:
    """Whether a delivery medium may take what is recovered from this patient: files go on it, not sectors.

    How much will be recovered is not known yet, so less room than the patient has is warned of, not refused.
    """
    answer = _Answer()
    _ask_owner(patient, destination, answer)
    _ask_state(patient, destination, answer)
    _ask_health(destination, answer)
    _ask_room_for_files(patient, destination, answer)
    return Fit(patient, destination, tuple(answer.refusals), tuple(answer.notes), tuple(answer.warnings))


def best(patient: Need, destinations: Iterable[Room], *, asked: Callable[[Need, Room], Fit] = fits) -> list[Fit]:
    """Those that fit, the smallest first; of the same size, what has least to mind first, then the order given.

    What a copy would overwrite (the case's own data) comes after all that is clean, whatever its size. ``asked`` is
    the question: ``fits`` for a clone, ``holds_files`` for a delivery medium.
    """
    answers = [answer for answer in (asked(patient, room) for room in destinations) if answer.fits]
    return sorted(answers, key=lambda a: (a.room.state in OVERWRITTEN, a.room.bytes or 0, len(a.warnings)))


class _Answer:
    def __init__(self) -> None:
        self.refusals: list[str] = []
        self.notes: list[str] = []
        self.warnings: list[str] = []


def _ask_owner(need: Need, room: Room, answer: _Answer) -> None:
    if room.owned_by is None:
        return
    if room.owned_by != need.case:
        answer.refusals.append(f"It belongs to the customer of case {room.owned_by}, and serves that case only.")
    elif not room.consent:
        answer.refusals.append("It is the customer's own, and no written consent to use it is on record.")
    else:
        answer.notes.append("It is the customer's own; the written consent is on record. It is never wiped.")


def _ask_state(need: Need, room: Room, answer: _Answer) -> None:
    other = room.held_for if room.held_for != need.case else None
    match room.state:
        case State.RETIRED:
            answer.refusals.append("It is retired.")
        case State.GONE:
            with_what = f" with what case {room.held_for} recovered" if room.held_for else ""
            answer.refusals.append(f"It was handed out{with_what}.")
        case State.WIPING:
            held = f" It held data of case {room.held_for}." if room.held_for else ""
            answer.refusals.append(f"It is being wiped; it is free once the wipe is verified.{held}")
        case State.POOL:
            answer.notes.append("Images on a pool are kept apart by a key for each case.")
        case state if state in HOLDING and room.held_for == need.case:
            answer.notes.append("It is this case's own already.")
            if state in OVERWRITTEN:
                answer.warnings.append("It holds data of this case, which a new copy would overwrite.")
        case state if state in HOLDING:
            answer.refusals.append(_held_by(state, room.held_for))
        case state if other:
            answer.refusals.append(f"It is {state}, and set aside for case {other}.")
        case State.NEW:
            answer.notes.append("It is new and sealed, which counts as wiped.")
        case _:
            answer.notes.append("It is wiped, and the wipe is verified.")


def _held_by(state: State, case: str | None) -> str:
    whose = f"case {case}" if case else "a case that is not on record"
    if state is State.ASSIGNED:
        return f"It is assigned to {whose}."
    if state is State.NOT_VERIFIED:
        return f"It held data of {whose}, and its wipe is not verified."
    return f"It holds data of {whose}, and no verified wipe is on record."


def _ask_health(room: Room, answer: _Answer) -> None:
    if room.healthy is False:
        answer.refusals.append("It failed its last health check.")
    elif room.healthy is None and room.state not in (State.POOL, State.NEW):
        answer.warnings.append("Its health has not been checked.")


def _ask_size(need: Need, room: Room, answer: _Answer) -> None:
    if room.bytes is None:
        answer.refusals.append("Its own size is not known: read it first.")
        return
    wanted = _wanted_bytes(need)
    if wanted is None:
        answer.refusals.append("The patient's size is not known, so nothing can be said to hold it.")
        return
    if room.keeps_files:
        _compare_bytes(wanted, room, answer)
    else:
        _compare_sectors(need, wanted, room, answer)
    if need.planned_bytes is not None and (need.bytes is None or room.bytes < need.bytes):
        answer.warnings.append(f"It holds what the plan reads ({wanted:,} bytes), not the whole patient.")


def _ask_room_for_files(need: Need, room: Room, answer: _Answer) -> None:
    there = room.bytes
    if there is None:
        answer.refusals.append("How much it holds is not known.")
    elif need.bytes is None or there >= need.bytes:
        answer.notes.append(f"It holds {there:,} bytes.")
    else:
        answer.notes.append(f"It holds {there:,} bytes, less than the whole patient.")
        answer.warnings.append(f"The patient has {need.bytes:,} bytes: see that what is recovered fits.")


def _wanted_bytes(need: Need) -> int | None:
    return need.bytes if need.planned_bytes is None else need.planned_bytes


def _compare_bytes(wanted: int, room: Room, answer: _Answer) -> None:
    there = room.bytes or 0
    if there < wanted:
        answer.refusals.append(
            f"Too small: {wanted:,} bytes are needed, there are {there:,} ({wanted - there:,} too few)."
        )
    else:
        answer.notes.append(f"Large enough: {wanted:,} bytes are needed, there are {there:,}.")


def _compare_sectors(need: Need, wanted: int, room: Room, answer: _Answer) -> None:
    if need.sector_bytes != room.sector_bytes:
        sizes = f"{need.sector_bytes:,} bytes on the patient, {room.sector_bytes:,} on the destination"
        answer.warnings.append(f"Sector sizes differ: {sizes}. What reads the copy may need a translation.")
    needed, there = _sectors(wanted, room.sector_bytes), room.sectors or 0
    if need.planned_end is not None:
        needed = max(needed, _sectors(need.planned_end * need.sector_bytes, room.sector_bytes))
    elif need.planned_bytes is not None and need.bytes is not None and (room.bytes or 0) < need.bytes:
        answer.warnings.append(
            "A copy on a medium keeps every sector in its place: see that the plan ends before it does."
        )
    text = f"{needed:,} sectors of {room.sector_bytes:,} bytes are needed, there are {there:,}"
    if there < needed:
        answer.refusals.append(f"Too small: {text} ({needed - there:,} too few).")
    else:
        answer.notes.append(f"Large enough: {text}.")


def _sectors(size: int, sector_bytes: int) -> int:
    """Whole sectors that hold so many bytes."""
    return -(-size // sector_bytes)


def _whole(what: str, value: Any, *, least: int) -> None:
    if value is None:
        return
    if isinstance(value, bool) or not isinstance(value, int) or value < least:
        raise ValueError(f"{what} must be a whole number of {least} or more, not {value!r}.")
