"""The parts of a medium as they are kept, and parts of them in words: "partition 2, two fifths".

>>> typed("1 2048 204800 System\\n2 206848 1000 Recordings", total=500_000)[1]["name"]
'Recordings'
>>> share("two fifths"), share("40 %"), share("2/5") == share("0.4")
(Fraction(2, 5), Fraction(2, 5), True)
>>> part_of(1_000, 500, share("two fifths"), from_end=False), part_of(1_000, 500, share("1/3"), from_end=True)
((1000, 200), (1334, 166))
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from labcases.bench.spans import BadSpan, Span, read_spans
from labcases.core.text import one_line

MOST_PARTS = 256
ONES = {"a": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9}
NTHS = {"half": 2, "third": 3, "quarter": 4, "fourth": 4, "fifth": 5, "sixth": 6, "seventh": 7, "eighth": 8}
NTHS |= {"ninth": 9, "tenth": 10, "twelfth": 12, "twentieth": 20}
ALL = ("all", "whole", "everything", "all of it")


def from_layout(layout: Mapping[str, Any], total: int | None) -> list[dict[str, Any]]:
    """The parts of a layout as ``media.image.as_json`` gives it. Raises BadSpan for one that cannot be."""
    parts = layout.get("parts")
    if not isinstance(parts, list) or not all(isinstance(part, dict) for part in parts):
        raise BadSpan("This is no layout: it has no list of parts.")
    return [_part(part, at, total) for at, part in enumerate(parts[:MOST_PARTS], 1)]


def _part(part: Mapping[str, Any], row: int, total: int | None) -> dict[str, Any]:
    number, first, sectors = (part.get(key) for key in ("number", "first_lba", "sectors"))
    if not all(isinstance(value, int) for value in (number, first, sectors)):
        raise BadSpan("a part has a number, a first sector and a number of sectors.", row)
    volume = part.get("volume")
    inside = volume.get("kind", "") if isinstance(volume, dict) else ""
    return _clean(
        row, number, first, sectors, total, str(part.get("name") or ""), inside or part.get("type_name") or ""
    )


def _clean(row: int, number: Any, first: Any, sectors: Any, total: int | None, name: str, kind: str) -> dict[str, Any]:
    if total is not None:
        try:
            read_spans([(first, sectors)], total)
        except BadSpan as wrong:
            raise BadSpan(str(wrong).partition(": ")[2], row) from None
    return {
        "number": number,
        "first_lba": first,
        "sectors": sectors,
        "name": one_line(name)[:100],
        "type_name": one_line(kind)[:60],
    }


def typed(text: str, total: int | None) -> list[dict[str, Any]]:
    """Parts typed by hand, one a line: number, first sector, number of sectors, name. Raises BadSpan with the line."""
    parts = []
    for row, line in enumerate(text.splitlines(), 1):
        if not line.strip():
            continue
        found = re.fullmatch(r"\s*(\d{1,5})\s+([\d,]{1,26})\s+([\d,]{1,26})(?:\s+(.*))?", line)
        if not found:
            raise BadSpan("write number, first sector, number of sectors and a name.", row)
        first, sectors = (int(found[at].replace(",", "")) for at in (2, 3))
        parts.append(_clean(row, int(found[1]), first, sectors, total, found[4] or "", ""))
    if len({part["number"] for part in parts}) < len(parts):
        raise BadSpan("Two parts have the same number.")
    if not parts:
        raise BadSpan("No part is named.")
    return parts[:MOST_PARTS]


def share(text: str) -> Fraction:
    """How much of something: all, 2/5, 0.4, 40 %, two fifths, half. Raises ValueError with a sentence."""
    said = " ".join(text.casefold().replace("-", " ").split())
    try:
        found = _share(said)
    except (ValueError, ZeroDivisionError, KeyError):
        raise ValueError(f"“{text[:40]}” is no share. Write all, 2/5, 40 % or two fifths.") from None
    if not 0 < found <= 1:
        raise ValueError("A share is more than nothing, and all at most.")
    return found


def _share(said: str) -> Fraction:
    if said in ALL:
        return Fraction(1)
    if said.endswith("%"):
        return Fraction(said[:-1].strip().replace(",", ".")) / 100
    if re.fullmatch(r"[0-9.,/ ]{1,20}", said):
        return Fraction(said.replace(" ", "").replace(",", "."))
    count, _, nth = said.removeprefix("the ").rpartition(" ")
    return Fraction(ONES[count] if count else 1, NTHS[nth.removesuffix("s") if nth != "halves" else "half"])


def part_of(first: int, sectors: int, much: Fraction, *, from_end: bool) -> Span:
    """So much of a span, from its beginning or from its end; a sector that is only half in it is left out."""
    length = sectors * much.numerator // much.denominator
    return (first + sectors - length if from_end else first, length)


def name_of(part: Mapping[str, Any]) -> str:
    """A part in a few words: ``1 · NTFS Recordings``."""
    words = " ".join(str(part[key]) for key in ("type_name", "name") if part.get(key))
    return f"{part['number']} · {words}" if words else f"{part['number']}"
