"""Readings as an engineer writes them, one a line: what was measured, its value, its unit.

>>> measured("5 V to ground: 1.2 kΩ")
Measured(what='5 V to ground', value='1.2', unit='kΩ')
>>> measured("surface: 41 C")
Traceback (most recent call last):
    ...
ValueError: “surface: 41 C” has no unit known here: Ω, kΩ, MΩ, mV, V, mA, A, W, °C, rpm, dB, Hz, kHz, µm, %.
"""

from __future__ import annotations

import re
from typing import NamedTuple

UNITS = ("Ω", "kΩ", "MΩ", "mV", "V", "mA", "A", "W", "°C", "rpm", "dB", "Hz", "kHz", "µm", "%")
_ALSO = {"ohm": "Ω", "kohm": "kΩ", "mohm": "MΩ", "Ω": "Ω", "kΩ": "kΩ", "MΩ": "MΩ", "um": "µm", "μm": "µm"}
_LINE = re.compile(r"(?P<what>[^:]+):\s*(?P<value>[<>]?\s*[+-]?\d+(?:[.,]\d+)?)\s*(?P<unit>\S+)\s*")


class Measured(NamedTuple):
    """One reading. ``value`` is as it was written, with a point, and may say < or >."""

    what: str
    value: str
    unit: str

    def __str__(self) -> str:
        return f"{self.what}: {self.value} {self.unit}"


def measured(line: str) -> Measured:
    """One line read. Raises ValueError with a sentence.

    >>> str(measured("12 V to ground: >20 Mohm"))
    '12 V to ground: >20 MΩ'
    """
    found = _LINE.fullmatch(line.strip())
    if found is None:
        raise ValueError(f"“{line.strip()}” is no reading. Write what, a colon, value and unit: 5 V to ground: 1.2 kΩ.")
    unit = _ALSO.get(found["unit"], _ALSO.get(found["unit"].lower(), found["unit"]))
    if unit not in UNITS:
        raise ValueError(f"“{line.strip()}” has no unit known here: {', '.join(UNITS)}.")
    return Measured(found["what"].strip(), found["value"].replace(",", ".").replace(" ", ""), unit)


def all_measured(text: str) -> list[Measured]:
    """Every line that is not blank. Raises ValueError for the first that is no reading."""
    return [measured(line) for line in text.splitlines() if line.strip()]
