"""A table of many rows as whole columns of text: what ``core.tables`` finds out about a file, read column by column.

Which encoding and separator, and where the headers stand, is asked of the first part of the file; the rest is read at
once (a million rows in a second). A table without headers, one of bare numbers, is read too: its columns are then
called ``column 1`` and so on; and so is one whose columns are set apart by blanks alone.

>>> cells = load(b"pos,len,state\\n0,8,ok\\n\\n8,4,bad\\n", "spans.csv")
>>> cells.headers, cells.column("pos").to_pylist(), cells.rows.tolist()
(['pos', 'len', 'state'], ['0', '8'], [2, 4])
>>> load(b"0x00  0x10\\n0x10  0x08\\n", "list.txt").headers
['column 1', 'column 2']
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from labcases.bench.spans import Ints
from labcases.core.delimited import Delimited, TableError
from labcases.core.tables import Table, open_table
from labcases.core.units import counted

__all__ = ["Cells", "TableError", "load"]

HEAD = 1 << 20  # bytes from the beginning that are looked at to find out how the table is written
MOST_ROWS = 20_000_000
_NUMBER = re.compile(r"[+-]?(0[xX][0-9a-fA-F]+|[0-9][0-9 ,.']*)")


@dataclass(frozen=True)
class Cells:
    """Headers and columns (pyarrow arrays of text) of a table; ``rows`` are the rows' numbers in the file."""

    headers: list[str]
    columns: Sequence[Any]
    rows: Ints
    warnings: list[str]
    sheets: list[str]

    def column(self, header: str) -> Any:
        return self.columns[self.headers.index(header)]

    def first_rows(self, most: int = 8) -> list[tuple[int, list[str]]]:
        """The beginning of the table, to be shown."""
        texts = [column.slice(0, most).to_pylist() for column in self.columns]
        return [(int(self.rows[at]), [text[at] or "" for text in texts]) for at in range(min(most, self.rows.size))]


def load(data: bytes, name: str, sheet: str = "") -> Cells:
    """The table in a file. Raises TableError with a sentence."""
    if data[:4] == b"PK\x03\x04":
        return _from_sheet(open_table(data, name, sheet))
    text, separator, warnings = _plain_text(data, name)
    head = text[: text.rfind(b"\n", 0, HEAD) + 1] if len(text) > HEAD else text
    table = open_table(io.BytesIO(head), name)
    bare = _is_bare(table.headers)
    skip = table.header_row - 1 if bare else table.header_row + table.header_rows - 1
    headers = _numbered(len(table.headers)) if bare else table.headers
    columns = _read(text, separator, skip, headers)
    rows = np.arange(skip + 1, skip + 1 + (len(columns[0]) if columns else 0), dtype=np.int64)
    return _without_blank(Cells(headers, columns, rows, [*warnings, *table.warnings], []))


def _from_sheet(table: Table) -> Cells:
    import pyarrow as pa

    rows: list[int] = []
    columns: list[list[str]] = [[] for _ in table.headers]
    bare = _is_bare(table.headers)
    for number, cells in _rows_of(table, bare):
        rows.append(number)
        for column, cell in zip(columns, cells, strict=True):
            column.append(cell)
    headers = _numbered(len(table.headers)) if bare else table.headers
    arrays = [pa.array(column, pa.string()) for column in columns]
    return Cells(headers, arrays, np.array(rows, np.int64), list(table.warnings), list(table.sheets))


def _rows_of(table: Table, bare: bool) -> Iterator[tuple[int, list[str]]]:
    if bare:
        yield table.header_row, list(table.headers)
    yield from table.rows()


def _is_bare(headers: Sequence[str]) -> bool:
    """Whether what stands where headers stand are numbers: two of them at least."""
    return sum(bool(_NUMBER.fullmatch(header.strip())) for header in headers) >= 2


def _numbered(count: int) -> list[str]:
    return [f"column {number}" for number in range(1, count + 1)]


def _plain_text(data: bytes, name: str) -> tuple[bytes, str, list[str]]:
    """The file in UTF-8 with its separator; columns set apart by blanks get tabs, one for one line."""
    head = data[: data.rfind(b"\n", 0, HEAD) + 1 or HEAD] if len(data) > HEAD else data
    if data[:8].startswith((b"\xd0\xcf\x11\xe0", b"%PDF")):
        open_table(data, name)  # says what it is, and refuses it
    source = Delimited(io.BytesIO(head))
    encoding = "utf-8-sig" if source.encoding == "utf-8" else source.encoding
    if encoding != "utf-8-sig" or data[:3] == b"\xef\xbb\xbf":
        data = _decoded(data, encoding).encode()
    if b"\0" in data:
        line = data.count(b"\n", 0, data.index(b"\0")) + 1
        raise TableError(f"Line {line} holds a NUL character: the file is damaged, or is no table.")
    if _set_apart_by_blanks(head, source):
        data = re.sub(rb"(?m)^#[^\n]*$", b"", data)
        return re.sub(rb"[ \t]+", b"\t", re.sub(rb"(?m)^[ \t]+|[ \t]+(?=\r?$)", b"", data)), "\t", source.warnings
    return data, source.separator, source.warnings


def _decoded(data: bytes, encoding: str) -> str:
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as wrong:
        line = data.count(b"\n", 0, wrong.start) + 1
        raise TableError(
            f"Line {line} cannot be read as {encoding.removesuffix('-sig')}: the file is damaged."
        ) from None


def _set_apart_by_blanks(head: bytes, source: Delimited) -> bool:
    lines = [line for line in head.splitlines()[:50] if line.strip() and not line.startswith(b"#")]
    if any(source.separator.encode() in line for line in lines):
        return False
    widths = {len(line.split()) for line in lines}
    return len(widths) == 1 and min(widths) > 1


def _read(text: bytes, separator: str, skip: int, headers: Sequence[str]) -> list[Any]:
    import pyarrow as pa
    import pyarrow.csv as csv

    odd: list[Any] = []

    def refuse(row: Any) -> str:
        odd.append(row)
        return "error"

    try:
        table = csv.read_csv(
            io.BytesIO(text),
            read_options=csv.ReadOptions(use_threads=False, skip_rows=skip, column_names=list(headers)),
            parse_options=csv.ParseOptions(
                delimiter=separator, ignore_empty_lines=False, newlines_in_values=True, invalid_row_handler=refuse
            ),
            convert_options=csv.ConvertOptions(
                column_types=dict.fromkeys(headers, pa.string()), strings_can_be_null=False
            ),
        )
    except pa.ArrowException as wrong:
        if odd:
            cells = f"{counted(odd[0].actual_columns, 'cell')}, where the headers have {odd[0].expected_columns:,}"
            raise TableError(f"Row {odd[0].number} has {cells}. Nothing was kept.") from None
        if "Empty CSV file" in str(wrong):
            return [pa.array([], pa.string()) for _ in headers]
        _decoded(text, "utf-8")  # the likeliest trouble, said with its line
        raise TableError(f"The file cannot be read as a table: {str(wrong)[:200]}.") from None
    if table.num_rows > MOST_ROWS:
        raise TableError(f"The file has {table.num_rows:,} rows; {MOST_ROWS:,} are the most. Cut it into several.")
    return [column.combine_chunks() for column in table.columns]


def _without_blank(cells: Cells) -> Cells:
    """Rows of empty cells alone left out; the others keep their numbers."""
    import pyarrow as pa
    import pyarrow.compute as compute

    filled = np.zeros(cells.rows.size, np.bool_)
    for column in cells.columns:
        filled |= compute.greater(compute.utf8_length(column), 0).to_numpy(zero_copy_only=False)
    if filled.all():
        return cells
    chosen = pa.array(filled)
    columns = [column.filter(chosen) for column in cells.columns]
    return Cells(cells.headers, columns, cells.rows[filled], cells.warnings, cells.sheets)
