"""Whether the members that are left are enough for the level an array was made at.

>>> enough("5", 4, [Member(0), Member(1), Member(3)]).sentence
'Enough: 1 of 4 members is missing, and single parity gives back 1.'
>>> enough("6", 5, [Member(0), Member(1), Member(2, stale=True)]).whole
False

A stale member (it dropped out earlier, its data is behind the others') and one whose copy cannot be used count as
missing: parity worked out with old data gives wrong data without a word.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

SPARES = {"linear": 0, "0": 0, "4": 1, "5": 1, "6": 2}
FEWEST = {"linear": 1, "0": 2, "1": 2, "4": 3, "5": 3, "6": 4, "10": 2}
BY = {"4": "one member of parity", "5": "single parity", "6": "double parity"}


@dataclass(frozen=True, slots=True)
class Member:
    """A member as found: its place in the order, from 0."""

    place: int
    stale: bool = False
    usable: bool = True


@dataclass(frozen=True, slots=True)
class Enough:
    """``whole`` is True when everything can be given back; ``mistakes`` are what cannot be as it was stated."""

    whole: bool
    missing: tuple[int, ...]
    sentence: str
    mistakes: tuple[str, ...] = ()


def enough(level: str, count: int, found: Sequence[Member], copies: int = 2) -> Enough:
    """Judge the members found of an array of ``count`` members at this level; ``copies`` where it is mirrored.

    Mirrored stripes lie as copies on neighbours: places 0 and 1 hold the same, 2 and 3 the next, and so on (the usual
    way; common practice, no source).
    """
    mistakes = tuple(_mistakes(level, count, found, copies))
    good = {member.place for member in found if member.usable and not member.stale}
    missing = tuple(place for place in range(count) if place not in good)
    if mistakes:
        return Enough(False, missing, "As stated, this cannot be.", mistakes)
    many = (
        "no member is" if not missing else f"{len(missing)} of {count} members {'is' if len(missing) == 1 else 'are'}"
    )
    if level in ("1", "10"):
        lost = _lost_groups(count, count if level == "1" else copies, good)
        if lost:
            return Enough(False, missing, f"Not enough: {many} missing, and of {lost} no copy is left.")
        return Enough(True, missing, f"Enough: {many} missing, and a copy of everything is left.")
    spare = SPARES[level]
    whole = len(missing) <= spare
    given = f"{BY[level]} gives back {spare}" if spare else "this level gives nothing back"
    return Enough(whole, missing, f"{'Enough' if whole else 'Not enough'}: {many} missing, and {given}.")


def _mistakes(level: str, count: int, found: Sequence[Member], copies: int) -> list[str]:
    said = []
    if count < FEWEST[level]:
        said.append(f"This level needs {FEWEST[level]} members at least; {count} are stated.")
    if level == "10" and (copies < 2 or count % copies):
        said.append(f"{count} members cannot hold {copies} copies of everything side by side.")
    places = [member.place for member in found]
    if twice := sorted({place for place in places if places.count(place) > 1}):
        said.append(f"Two members are given place {twice[0]}.")
    if beyond := sorted(place for place in places if place >= count):
        said.append(f"Place {beyond[0]} is beyond the last: places count from 0 to {count - 1}.")
    return said


def _lost_groups(count: int, copies: int, good: set[int]) -> str:
    groups = [range(first, first + copies) for first in range(0, count, copies)]
    lost = [group for group in groups if not good.intersection(group)]
    return ", ".join(f"places {group[0]} to {group[-1]}" for group in lost)
