"""What a row of scanned codes means: which things, from which shelf, to which place or badge.

The last place or badge that is scanned after anything else is where things go. A place that is scanned first means this
place and all that lies in it, when something follows or nothing else was scanned.

>>> said = read("LCS00001J  26-00417-P1-K  S-00001-J")
>>> said.things, said.source, said.target
(('2600417P1K',), 'S00001J', 'S00001J')
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from labcases.core import codes
from labcases.core.codes import Series

WHERE = (Series.PLACE, Series.BADGE)


@dataclass
class Scanned:
    """Folded codes in the order they were scanned, and a sentence for each that could not be read."""

    things: tuple[str, ...] = ()
    source: str = ""
    target: str = ""
    wrong: list[str] = field(default_factory=list)


def read(text: str) -> Scanned:
    """Read what was scanned or typed, with blanks, commas or lines between."""
    said = Scanned()
    found: list[codes.Code] = []
    for typed in re.split(r"[\s,;]+", text):
        if not typed:
            continue
        try:
            found.append(codes.parse(typed))
        except codes.MistypedCode as mistake:
            said.wrong.append(str(mistake))
    said.things = tuple(dict.fromkeys(code.folded for code in found if code.series not in WHERE))
    if found and found[0].series is Series.PLACE:
        said.source = found[0].folded
    later = [code.folded for code in found[1 if said.source else 0 :] if code.series in WHERE]
    said.target = later[-1] if later else ""
    return said


def badge_number(folded: str) -> int | None:
    """Whose badge this is: the number of the person; None for the code of anything else.

    >>> badge_number("B00012" + codes.check_character("B00012")), badge_number("2600417D")
    (12, None)
    """
    read_code = codes.parse(folded)
    return int(read_code.body[1:]) if read_code.series is Series.BADGE else None
