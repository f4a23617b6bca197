"""Reads of reading: what was read (``read``), what is shown of it (``shown``), what lies ahead (``ahead``)."""

from __future__ import annotations

from labcases.bench.reading.queries.ahead import forecast_of, lines_of, misleading, plan_of, rows_of
from labcases.bench.reading.queries.read import SHOWN, Counted, Read, Stands, coverage_of, read_of
from labcases.bench.reading.queries.shown import Window, drawn, facts, section_of, window

__all__ = [
    "SHOWN",
    "Counted",
    "Read",
    "Stands",
    "Window",
    "coverage_of",
    "drawn",
    "facts",
    "forecast_of",
    "lines_of",
    "misleading",
    "plan_of",
    "read_of",
    "rows_of",
    "section_of",
    "window",
]
