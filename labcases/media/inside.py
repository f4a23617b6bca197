"""What is written down of the inside of a medium, read into the values that matching compares.

One way of writing each: heads by their positions, offsets in the order of the heads, ids apart by semicolons. What is
typed is read generously and kept in this one way; what cannot be meant is refused with a sentence.

>>> heads_said("0-2, 4"), offsets_said("1.5 -2,0"), ids_said("98 3A; 98 3B")
('0 1 2 4', '1.5 -2 0', '98 3A; 98 3B')
>>> heads_in("0 1 2 4"), offsets_in("1.5 -2 0"), ids_in("98 3A; 98 3B")
((0, 1, 2, 4), (1.5, -2.0, 0.0), ('98 3A', '98 3B'))
>>> heads_said("0 1 x")
Traceback (most recent call last):
    ...
labcases.media.inside.NotReadable: “x” is no head. Write their positions from 0 upward, for example: 0 1 2 3, or 0-3.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from functools import lru_cache

MOST_HEADS = 64
MOST_IDS = 64


class NotReadable(ValueError):
    """What was typed is not what belongs there; ``str(error)`` is a sentence."""


def heads_said(text: str) -> str:
    """Positions of heads as they are kept. Raises NotReadable."""
    found: set[int] = set()
    for word in re.split(r"[\s,;]+", text.strip()):
        if word:
            found |= _heads(word)
    return " ".join(str(head) for head in sorted(found))


def _heads(word: str) -> set[int]:
    span = re.fullmatch(r"(\d{1,2})(?:[-\N{EN DASH}](\d{1,2}))?", word, re.ASCII)
    first = int(span[1]) if span else MOST_HEADS
    last = int(span[2] or span[1]) if span else MOST_HEADS
    if last >= MOST_HEADS or last < first:
        raise NotReadable(
            f"“{word[:20]}” is no head. Write their positions from 0 upward, for example: 0 1 2 3, or 0-3."
        )
    return set(range(first, last + 1))


def offsets_said(text: str) -> str:
    """One radial offset for each head, as they are kept. Raises NotReadable."""
    words = [word for word in re.split(r"[\s,;]+", text.strip()) if word]
    if len(words) > MOST_HEADS:
        raise NotReadable(f"{len(words)} offsets are more than there can be heads: {MOST_HEADS} at most.")
    return " ".join(f"{_offset(word):g}" for word in words)


def _offset(word: str) -> float:
    try:
        value = float(word.replace("\N{MINUS SIGN}", "-"))
    except ValueError:
        value = math.nan
    if not math.isfinite(value) or abs(value) >= 1e6:
        raise NotReadable(f"“{word[:20]}” is no offset. Write one number for each head, the lowest first: 12 -4.5 8.")
    return value


def ids_said(text: str) -> str:
    """The ids that flash chips answer with, in the order of the chips, as they are kept. Raises NotReadable."""
    ids = [" ".join(part.split()) for part in re.split(r"[;,\n]", text) if part.strip()]
    if len(ids) > MOST_IDS:
        raise NotReadable(f"{len(ids)} ids are too many: {MOST_IDS} at most.")
    return "; ".join(ids)


def codes_said(text: str) -> dict[str, str]:
    """Codes on labels, one a line as NAME: value; a name counts in capitals. Raises NotReadable.

    >>> codes_said("head code: 4K7\\nSite:  N")
    {'HEAD CODE': '4K7', 'SITE': 'N'}
    """
    found: dict[str, str] = {}
    for line in text.splitlines():
        name, colon, value = (" ".join(part.split()) for part in line.partition(":"))
        if not (name or value):
            continue
        if not (name and colon and value) or len(name) > 40 or len(value) > 100:
            raise NotReadable(f"“{line[:40]}” is no code with its value. Write one a line: HEAD CODE: 4K7.")
        if name.upper() in found:
            raise NotReadable(f"{name.upper()} is listed twice.")
        found[name.upper()] = value
    return found


def codes_in_words(codes: Mapping[str, str]) -> str:
    """The lines that ``codes_said`` reads."""
    return "\n".join(f"{name}: {value}" for name, value in codes.items())


@lru_cache(maxsize=4096)
def heads_in(kept: str) -> tuple[int, ...]:
    """The positions that were kept."""
    return tuple(int(word) for word in kept.split())


@lru_cache(maxsize=4096)
def offsets_in(kept: str) -> tuple[float, ...]:
    """The offsets that were kept."""
    return tuple(float(word) for word in kept.split())


@lru_cache(maxsize=4096)
def ids_in(kept: str) -> tuple[str, ...]:
    """The ids that were kept."""
    return tuple(part for part in kept.split("; ") if part)
