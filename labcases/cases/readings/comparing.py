"""What was noted of a medium beside what it says of itself, attribute by attribute.

Unknown is never the same as different: where either side is silent, nothing has to be answered. Labels print a maker's
name in front of the model, and page strings are cut: one that holds the other is near. A board that answers without
its service area gives names of its own, so nothing it says is held against what was noted.

>>> noted, said = {"serial": "PW2M-00417", "model": "PL500-2M"}, {"serial": "PW2MOO417", "model": "PELORUS PL500-2M"}
>>> [(one.name, one.mark) for one in compare(noted, said)]
[('model', 'near'), ('serial', 'different')]
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from labcases.core.text import folded_serial

NAMES = {  # in the order of the page
    "model": "Model",
    "serial": "Serial",
    "firmware": "Firmware",
    "interface": "Interface",
    "sectors": "Sectors",
    "sector_bytes": "Bytes in a sector",
}
SAME, NEAR, UNKNOWN, DIFFERENT = "same", "near", "unknown", "different"
SHORTEST_HELD = 4  # characters; shorter texts are found in too much
TYPO, SWAPPED, WRONG = "typo", "swapped", "wrong"
ANSWERS = {
    TYPO: "It was noted wrongly: take what the medium says",
    SWAPPED: "Its board was swapped: what was noted stays",
    WRONG: "It is the wrong item: stop",
}


@dataclass(frozen=True)
class Line:
    """One attribute: both values as they are stored and as they are said, and the mark between them."""

    name: str
    label: str
    noted: Any
    said: Any
    mark: str
    answer: str = ""

    @property
    def open(self) -> bool:
        """Whether somebody still has to say what the difference means."""
        return self.mark == DIFFERENT and not self.answer

    @property
    def noted_words(self) -> str:
        return _words(self.noted)

    @property
    def said_words(self) -> str:
        return _words(self.said)

    @property
    def answer_words(self) -> str:
        return ANSWERS.get(self.answer, "")


def compare(
    noted: Mapping[str, Any], said: Mapping[str, Any], *, whole: bool = True, answers: Mapping[str, str] | None = None
) -> list[Line]:
    """A line for each attribute that either side knows. ``whole`` is false when only the board answered."""
    known = [name for name in NAMES if noted.get(name) or said.get(name)]
    given = answers or {}
    return [_line(name, noted.get(name), said.get(name), whole, given.get(name, "")) for name in known]


def _line(name: str, noted: Any, said: Any, whole: bool, answer: str) -> Line:
    mark = _mark(noted, said) if whole else UNKNOWN
    return Line(name, NAMES[name], noted, said, mark, answer if mark == DIFFERENT else "")


def _mark(noted: Any, said: Any) -> str:
    if not noted or not said:
        return UNKNOWN
    if isinstance(noted, int) or isinstance(said, int):
        return SAME if noted == said else DIFFERENT
    one, other = folded_serial(str(noted)), folded_serial(str(said))
    if one == other:
        return SAME
    short, long = sorted((one, other), key=len)
    return NEAR if len(short) >= SHORTEST_HELD and short in long else DIFFERENT


def _words(value: Any) -> str:
    if not value:
        return "not known"
    return f"{value:,}" if isinstance(value, int) else str(value)


def blanks_filled(noted: Mapping[str, Any], said: Mapping[str, Any], *, whole: bool = True) -> dict[str, Any]:
    """What the medium says and nobody had noted: nothing that was noted is written over."""
    return {name: said[name] for name in NAMES if whole and said.get(name) and not noted.get(name)}


def open_lines(lines: Sequence[Line]) -> list[Line]:
    return [line for line in lines if line.open]
