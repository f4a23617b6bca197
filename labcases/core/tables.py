"""A table out of a file somebody sends: CSV and its relatives, or a sheet of an XLSX workbook.

Where the headers stand is found: blank rows and a title above them are passed over, and headers of two rows (the
upper ones merged over several columns) become one: ``Label: Maker``.

>>> table = open_table(b"Maker,Serial\\nKestrel,A1\\n", "drives.csv")
>>> table.headers, list(table.rows())
(['Maker', 'Serial'], [(2, ['Kestrel', 'A1'])])
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from itertools import islice
from typing import BinaryIO

from labcases.core.delimited import MOST_ROWS, Delimited, TableError
from labcases.core.text import one_line
from labcases.core.workbook import Workbook

__all__ = ["MOST_ROWS", "Table", "TableError", "open_table"]

LOOKED_AT = 30  # rows from the top in which the headers are looked for
_ZIP, _OLD_OFFICE, _PDF = b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", b"%PDF"


class Table:
    """Headers and rows of one sheet. ``rows`` may be asked for again; it reads the file anew each time."""

    def __init__(self, source: Delimited | Workbook, header_row: int = 0) -> None:
        self._source = source
        self.sheets: list[str] = list(source.sheets)
        self.warnings: list[str] = list(source.warnings)
        start = [(number, _trimmed(cells)) for number, cells in islice(source.rows(), LOOKED_AT)]
        self.header_row, self.header_rows = _headers_at(start, header_row)
        upper = next(cells for number, cells in start if number == self.header_row)
        lower = [cells for number, cells in start if number == self.header_row + 1] if self.header_rows == 2 else []
        self.headers = _distinct(_joined(upper, lower[0]) if lower else upper)
        self._say_what_is_above(start)

    def rows(self) -> Iterator[tuple[int, list[str]]]:
        """Number (as the spreadsheet shows it) and cells of every row below the headers that is not blank."""
        width, last = len(self.headers), self.header_row + self.header_rows - 1
        for number, cells in self._source.rows(width):
            if number > last and any(cell.strip() for cell in cells):
                yield number, (cells + [""] * width)[:width]

    def _say_what_is_above(self, start: list[tuple[int, list[str]]]) -> None:
        above = [number for number, cells in start if number < self.header_row and cells]
        if above:
            self.warnings.append(f"Row {self.header_row} is read as the headers; what stands above is left out.")


def open_table(data: BinaryIO | bytes, name: str, sheet: str = "", header_row: int = 0) -> Table:
    """The table in a file. ``name`` is only for its ending; what the file is, its first bytes tell.

    ``sheet`` picks one of a workbook (the first with content otherwise), ``header_row`` says where the headers stand
    when the guess is wrong. Raises TableError with a sentence.
    """
    stream = io.BytesIO(data) if isinstance(data, bytes) else data
    stream.seek(0)
    start = stream.read(8)
    if start.startswith(_OLD_OFFICE):
        raise TableError(
            "This is a workbook of the old kind, or one locked with a password. Save it as XLSX or CSV without one."
        )
    if start.startswith(_PDF):
        raise TableError("This is a PDF, not a table. Send the CSV or XLSX file it was made from.")
    if start.startswith(_ZIP):
        return Table(Workbook(stream, sheet), header_row)
    if name.casefold().endswith((".xlsx", ".xlsm")):
        raise TableError("The name says XLSX, but the file is none. Save it again as XLSX or CSV.")
    return Table(Delimited(stream), header_row)


def _trimmed(cells: list[str]) -> list[str]:
    """One line each, without the empty ones at the end."""
    clean = [one_line(cell) for cell in cells]
    while clean and not clean[-1]:
        clean.pop()
    return clean


def _headers_at(start: list[tuple[int, list[str]]], asked: int) -> tuple[int, int]:
    """The row of the headers, and whether they are one row or two. A row of one cell is a title."""
    filled = [(number, cells) for number, cells in start if cells]
    if not filled:
        raise TableError("There is nothing in it: no row has a cell with text.")
    wide = [pair for pair in filled if sum(map(bool, pair[1])) > 1] or filled
    if asked:
        wide = [pair for pair in filled if pair[0] == asked]
        if not wide:
            raise TableError(f"Row {asked} has nothing that could be headers.")
    number, upper = wide[0]
    below = [cells for n, cells in filled if n > number]
    next_one = [cells for n, cells in filled if n == number + 1]
    if next_one and len(below) > 1 and _goes_on(upper, next_one[0]):
        return number, 2
    return number, 1


def _goes_on(upper: list[str], lower: list[str]) -> bool:
    """Whether a row is the second of the headers: words that fill holes the first one left, and no two alike."""
    words = [cell for cell in lower if cell]
    if any(re.search(r"\d", cell) for cell in words) or len({word.casefold() for word in words}) != len(words):
        return False
    padded = upper + [""] * (len(lower) - len(upper))
    return any(below and not above for above, below in zip(padded, lower, strict=False))


def _joined(upper: list[str], lower: list[str]) -> list[str]:
    """Two rows of headers as one; a word of the upper row stands over the blank cells to its right."""
    width = max(len(upper), len(lower))
    upper, lower = upper + [""] * (width - len(upper)), lower + [""] * (width - len(lower))
    joined, over = [], ""
    for above, below in zip(upper, lower, strict=True):
        over = above or over
        joined.append(f"{over}: {below}" if over and below else above or below)
    return joined


def _distinct(headers: list[str]) -> list[str]:
    """No header blank, none twice."""
    seen: dict[str, int] = {}
    named = []
    for n, header in enumerate(headers, start=1):
        header = header or f"column {n}"
        seen[header] = seen.get(header, 0) + 1
        named.append(header if seen[header] == 1 else f"{header} ({seen[header]})")
    return named
