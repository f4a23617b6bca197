"""What somebody means who types into the stockroom's find field.

A size with its unit, a kind of part, the words free and clean, a shelf or family, and ``for`` with the code of a case
or a patient are understood; every other word has to stand somewhere on what is found (a model number or a piece of
one, a maker, a board number, a serial, a code).

>>> understand("free heads for 26-00417-D")
Asked(words=(), part='head stack', what='parts', free=True, size=None, for_code='2600417D')
>>> understand("2 tb clean")
Asked(words=(), part='', what='media', free=True, size=2000000000000, for_code='')
>>> understand("PL500 boards shelf b").words
('pl500', 'shelf', 'b')
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from labcases.core import codes
from labcases.core.text import folded
from labcases.stock.measures import bytes_said
from labcases.stock.rules import PartKind

MOST_WORDS = 8
_PARTS: dict[str, PartKind] = {
    "head": PartKind.HEAD_STACK,
    "heads": PartKind.HEAD_STACK,
    "head stack": PartKind.HEAD_STACK,
    "head stacks": PartKind.HEAD_STACK,
    "board": PartKind.CONTROLLER_BOARD,
    "boards": PartKind.CONTROLLER_BOARD,
    "controller board": PartKind.CONTROLLER_BOARD,
    "controller boards": PartKind.CONTROLLER_BOARD,
    "motor": PartKind.MOTOR,
    "motors": PartKind.MOTOR,
    "rom": PartKind.ROM,
    "roms": PartKind.ROM,
    "bridge": PartKind.BRIDGE_BOARD,
    "bridges": PartKind.BRIDGE_BOARD,
    "bridge board": PartKind.BRIDGE_BOARD,
    "bridge boards": PartKind.BRIDGE_BOARD,
    "connector": PartKind.CONNECTOR,
    "connectors": PartKind.CONNECTOR,
    "flash controller": PartKind.FLASH_CONTROLLER,
    "flash controllers": PartKind.FLASH_CONTROLLER,
    "chip": PartKind.CHIP,
    "chips": PartKind.CHIP,
    "twin": PartKind.WHOLE_TWIN,
    "twins": PartKind.WHOLE_TWIN,
    "whole twin": PartKind.WHOLE_TWIN,
}
_PARTS_ANY = {"part", "parts", "donor", "donors"}
_MEDIA = {"media", "medium", "destination", "destinations", "clean", "wiped"}
_FREE = {"free", "clean"}
_SIZE = re.compile(r"(?<![\w.-])(\d[\d ]*(?:[.,]\d{1,3})?\s*[kmgtp]i?b)(?!\w)", re.IGNORECASE)
_FOR = re.compile(r"\bfor\s+([0-9a-z-]{6,30})\s*$", re.IGNORECASE)
_LONGEST = max(len(words.split()) for words in _PARTS)


@dataclass(frozen=True, slots=True)
class Asked:
    """``what`` is parts, media, or blank for both; ``size`` in bytes; ``for_code`` a folded code of case or patient."""

    words: tuple[str, ...]
    part: str = ""
    what: str = ""
    free: bool = False
    size: int | None = None
    for_code: str = ""

    @property
    def narrows(self) -> bool:
        """Whether it leaves anything out."""
        return bool(self.words or self.part or self.free or self.size)


def understand(text: str) -> Asked:
    """Read what was typed; what is not understood is a word to look for."""
    text, for_code = _taken_for(text)
    text, size = _taken_size(text)
    words, part = _taken_part(folded(text).split())
    what = "parts" if part or _PARTS_ANY & set(words) else "media" if _MEDIA & set(words) else ""
    free = bool(_FREE & set(words))
    rest = [word for word in words if word not in _FREE | _PARTS_ANY | (_MEDIA - {"wiped"})]
    return Asked(tuple(dict.fromkeys(rest))[:MOST_WORDS], part, what, free, size, for_code)


def _taken_for(text: str) -> tuple[str, str]:
    found = _FOR.search(text)
    if not found:
        return text, ""
    try:
        code = codes.parse(found[1])
    except codes.MistypedCode:
        return text, ""
    if code.series not in (codes.Series.CASE, codes.Series.PATIENT):
        return text, ""
    return text[: found.start()], code.folded


def _taken_size(text: str) -> tuple[str, int | None]:
    found = _SIZE.search(text)
    size = bytes_said(found[1]) if found else None
    return (text[: found.start()] + " " + text[found.end() :], size) if found and size else (text, None)


def _taken_part(words: list[str]) -> tuple[list[str], str]:
    """The longest words that name a part, and what is left without them."""
    for length in range(_LONGEST, 0, -1):
        for at in range(len(words) - length + 1):
            if part := _PARTS.get(" ".join(words[at : at + length])):
                return words[:at] + words[at + length :], part.value
    return words, ""


def bare(word: str) -> str:
    """A word as it is compared with a model number: letters and digits only.

    >>> bare("pl-500/2")
    'pl5002'
    """
    return "".join(character for character in word if character.isalnum())
