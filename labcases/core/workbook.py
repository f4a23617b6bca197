"""Rows of a sheet of an XLSX workbook (ECMA-376), without holding the sheet in memory.

A workbook is a ZIP file of XML parts, so it can be a bomb: what it says it unpacks to is bounded before anything is
unpacked (the ZIP reader stops at the size a part declares), and a part with a document type is refused.
"""

from __future__ import annotations

import zipfile
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, time, timedelta
from itertools import islice
from typing import Any, BinaryIO

from labcases.core import text
from labcases.core.delimited import MOST_CHARACTERS, MOST_COLUMNS, MOST_ROWS, TableError

MOST_BYTES = 2 << 30  # unpacked, all parts together: a million rows of twenty cells
MOST_SHARED = 128 << 20  # of the part with the texts, which has to be held in memory
HIGHEST_RATIO = 200  # unpacked to packed, of parts that matter; tables reach 30
SMALL = 8 << 20
_SAMPLE_ROWS = 50
_BLOCK = 1 << 20


class Workbook:
    """One sheet of a workbook; formulas are read as the value that was saved with them."""

    def __init__(self, data: BinaryIO, sheet: str = "") -> None:
        self._data = data
        self.warnings: list[str] = []
        _must_be_bounded(data)
        self._values = _load(data, data_only=True)
        if not self._values.worksheets:
            raise TableError("The workbook has no sheet with cells.")
        self.sheets = tuple(page.title for page in self._values.worksheets)
        self._page = self._chosen(sheet)
        self._page.reset_dimensions()  # what a file says of its own size is often wrong
        self._formulas = self._with_formulas()

    def rows(self, width: int = 0) -> Iterator[tuple[int, list[str]]]:
        """Number and cells of each row, also of empty ones. Raises TableError for a formula without a value."""
        try:
            yield from self._numbered(width or MOST_COLUMNS)
        except (zipfile.BadZipFile, EOFError, KeyError, IndexError, SyntaxError, ValueError) as wrong:
            if isinstance(wrong, TableError):
                raise
            raise TableError(
                f"The workbook is damaged: {wrong}. Open it in a spreadsheet program, save it anew."
            ) from None

    def _numbered(self, width: int) -> Iterator[tuple[int, list[str]]]:
        rows = self._page.iter_rows(max_col=width, max_row=MOST_ROWS, values_only=self._formulas is None)
        if self._formulas is None:
            for number, row in enumerate(rows, start=1):
                yield number, [_text(value, number, n) for n, value in enumerate(row)]
            return
        written = self._formulas.iter_rows(max_col=width, max_row=MOST_ROWS, values_only=True)
        for number, (row, formulas) in enumerate(zip(rows, written, strict=False), start=1):
            for n, (cell, formula) in enumerate(zip(row, formulas, strict=False)):
                if cell.value is None and formula is not None and cell.data_type not in ("str", "s"):
                    raise TableError(
                        f"Cell {_letters(n)}{number} holds a formula without a value. Open the file in a spreadsheet "
                        "program, save it there, and send it again; or put the value in place of the formula."
                    )
            yield number, [_text(cell.value, number, n) for n, cell in enumerate(row)]

    def _chosen(self, sheet: str) -> Any:
        """The named sheet, else the first that can be seen and has something in it."""
        if sheet:
            if sheet not in self.sheets:
                raise TableError(f"There is no sheet “{sheet[:60]}”. There are: {', '.join(self.sheets)}.")
            return self._values[sheet]
        seen = [page for page in self._values.worksheets if page.sheet_state == "visible"] or self._values.worksheets
        for page in seen:
            page.reset_dimensions()
            if any(any(cell is not None for cell in row) for row in _first(page)):
                return page
        return seen[0]

    def _with_formulas(self) -> Any:
        """The same sheet with its formulas, if it has any: two readers run side by side then."""
        path = self._page._worksheet_path
        if not _holds(self._data, path, b"<f"):
            return None
        page = _load(self._data, data_only=False)[self._page.title]
        page.reset_dimensions()
        return page


def write(out: BinaryIO, head: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """A workbook of one sheet, row by row. Text stays text: what looks like a formula is not one."""
    from openpyxl import Workbook as NewBook
    from openpyxl.cell import WriteOnlyCell

    book = NewBook(write_only=True)
    page = book.create_sheet("Table")
    page.append(list(head))
    for row in rows:
        page.append([_written(WriteOnlyCell(page), value) for value in row])
    book.save(out)


def _written(cell: Any, value: Any) -> Any:
    if isinstance(value, str) and value:
        cell.value = text.many_lines(value)[:MOST_CHARACTERS]
        cell.data_type = "s"
        return cell
    return value if value is None or isinstance(value, (int, float, date)) else str(value)


def _first(page: Any) -> Iterator[tuple[Any, ...]]:
    return islice(page.iter_rows(max_col=MOST_COLUMNS, max_row=_SAMPLE_ROWS, values_only=True), _SAMPLE_ROWS)


def _load(data: BinaryIO, *, data_only: bool) -> Any:
    import openpyxl  # half a second, and only those who read a workbook should wait for it
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        return openpyxl.load_workbook(data, read_only=True, data_only=data_only, keep_links=False)
    except (InvalidFileException, zipfile.BadZipFile, KeyError, ValueError, TypeError, SyntaxError, OSError) as wrong:
        raise TableError(f"This is no XLSX workbook that can be read ({type(wrong).__name__}).") from None


def _must_be_bounded(data: BinaryIO) -> None:
    data.seek(0)
    try:
        with zipfile.ZipFile(data) as archive:
            parts = archive.infolist()
            names = [part.filename for part in parts]
            if "[Content_Types].xml" not in names or len(set(names)) != len(names):
                raise TableError("This is no XLSX workbook: a ZIP file of something else.")
            if any(part.flag_bits & 1 for part in parts):
                raise TableError("The workbook is locked with a password. Save it without, then send it.")
            if sum(part.file_size for part in parts) > MOST_BYTES or any(map(_swells, parts)):
                raise TableError("The workbook unpacks to far more than a table may hold. Cut it into several files.")
            for part in parts:
                if part.filename.endswith((".xml", ".rels")) and b"<!DOCTYPE" in archive.open(part).read(4096):
                    raise TableError("The workbook has a document type inside, which no spreadsheet program writes.")
    except (zipfile.BadZipFile, EOFError, OSError, NotImplementedError, RuntimeError, zipfile.zlib.error):  # type: ignore[attr-defined]
        raise TableError("This is no XLSX workbook, or it was cut off on the way. Send it again.") from None


def _swells(part: zipfile.ZipInfo) -> bool:
    if part.filename.casefold().endswith("sharedstrings.xml") and part.file_size > MOST_SHARED:
        return True
    return part.file_size > SMALL and part.file_size > HIGHEST_RATIO * max(part.compress_size, 1)


def _holds(data: BinaryIO, path: str, wanted: bytes) -> bool:
    """Whether a part of the archive has these bytes, read block by block."""
    with zipfile.ZipFile(data) as archive, archive.open(path.lstrip("/")) as part:
        tail = b""
        while block := part.read(_BLOCK):
            if wanted in tail + block:
                return True
            tail = block[-len(wanted) :]
    return False


def _text(value: Any, row: int, column: int) -> str:
    """A cell as text: dates as ISO, whole numbers without a point."""
    if value is None:
        return ""
    if isinstance(value, str):
        if len(value) > MOST_CHARACTERS:
            raise TableError(f"Cell {_letters(column)}{row} has {len(value):,} characters; no spreadsheet allows that.")
        return value.replace("\0", "")
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e18 else repr(value)
    if isinstance(value, datetime):
        whole_day = (value.hour, value.minute, value.second, value.microsecond) == (0, 0, 0, 0)
        return value.date().isoformat() if whole_day else value.isoformat(sep=" ", timespec="seconds")
    if isinstance(value, (date, time)):
        return value.isoformat()
    return str(value) if isinstance(value, (int, timedelta)) else str(value)[:MOST_CHARACTERS]


def _letters(column: int) -> str:
    """The letters of a column counted from 0."""
    letters, n = "", column + 1
    while n:
        n, digit = divmod(n - 1, 26)
        letters = chr(65 + digit) + letters
    return letters
