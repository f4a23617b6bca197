"""A list of files out of what was sent: CSV (also packed with gzip), Parquet or XLSX, batch by batch.

Cells come as bytes, so that a path may hold whatever its file system held: NULs, halves of letters, line ends between
quotation marks. Columns of a Parquet file come as they are.
"""

from __future__ import annotations

import csv
import gzip
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any, Literal

from labcases.bench.files.paths import shown
from labcases.core.delimited import SEPARATORS
from labcases.core.tables import TableError, open_table

BATCH = 1 << 16
BLOCK = 4 << 20  # bytes of CSV at once; a row is no longer
SAMPLE = 1 << 18
MOST_COLUMNS = 256
Letters = Literal["utf-8", "cp1252", "utf-16"]
_GZIP, _ZIP, _PARQUET = b"\x1f\x8b", b"PK\x03\x04", b"PAR1"


class ListError(ValueError):
    """A list that cannot be taken as it stands; the text is a sentence. ``row`` counts as in a spreadsheet."""

    def __init__(self, sentence: str, row: int | None = None) -> None:
        super().__init__(f"Row {row}: {sentence}" if row is not None else sentence)
        self.row = row


@dataclass(frozen=True)
class Batch:
    """Some rows: the number of the first one, and the arrow arrays asked for, in the order asked."""

    row: int
    columns: Sequence[Any]

    @property
    def size(self) -> int:
        return len(self.columns[0])


class Source:
    """A list that is read batch by batch, as often as asked. Raises ListError for what is no list."""

    def __init__(self, path: Path, name: str, letters: Letters | None = None) -> None:
        self.path, self.name = path, name
        with path.open("rb") as file:
            start = file.read(4)
        if not start:
            raise ListError("The file is empty.")
        self.kind = {_ZIP: "xlsx", _PARQUET: "parquet"}.get(start, "csv")
        self._packed = start.startswith(_GZIP)
        self.separator, self.letters = ",", letters or "utf-8"
        if self.kind == "csv":
            self._look_at_text(letters)
        self.headers: list[str] = getattr(self, f"_{self.kind}_headers")()
        if not self.headers or len(self.headers) > MOST_COLUMNS:
            raise ListError(f"It has {len(self.headers)} columns; a list of files has 1 to {MOST_COLUMNS}.")

    @property
    def shown_headers(self) -> list[str]:
        """The headers fit for a page."""
        return [shown(header.encode("utf-8", "surrogatepass"), 60) for header in self.headers]

    def batches(self, columns: Sequence[int]) -> Iterator[Batch]:
        """The rows, of these columns."""
        yield from getattr(self, f"_{self.kind}_batches")(columns)

    def sample(self, rows: int = 2_000) -> list[list[str]]:
        """The first rows as text, to choose columns by."""
        first = next(self.batches(range(len(self.headers))), None)
        if first is None:
            return []
        return [[_text(cell) for cell in cells] for cells in zip(*[_cells(c[:rows]) for c in first.columns],
                                                                 strict=True)]  # fmt: skip

    # --- CSV

    def _look_at_text(self, letters: Letters | None) -> None:
        try:
            with gzip.open(self.path) if self._packed else self.path.open("rb") as file:
                start = file.read(SAMPLE)
        except (OSError, EOFError) as broken:
            raise ListError("The file says that it is packed with gzip, and cannot be unpacked.") from broken
        if letters is None:
            self.letters = "utf-16" if start[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8"
        self._start = start.decode(self.letters if self.letters != "utf-8" else "latin-1", "replace")
        cut = self._start.rfind("\n") + 1 if len(start) == SAMPLE else 0
        self._start = self._start[:cut] if cut else self._start
        self.separator = max(SEPARATORS, key=self._evenness)

    def _rows_of_start(self, separator: str) -> list[list[str]]:
        try:
            text = io.StringIO(self._start.replace("\0", "\ufffd"), newline="")
            return list(islice(csv.reader(text, delimiter=separator), 50))
        except csv.Error:
            return []

    def _evenness(self, separator: str) -> int:
        rows = self._rows_of_start(separator)
        width = len(rows[0]) if rows else 0
        return sum(len(row) == width for row in rows) if width > 1 else 0

    def _csv_headers(self) -> list[str]:
        rows = self._rows_of_start(self.separator)
        first = rows[0] if rows else []
        if self.letters == "utf-8":
            first = [header.encode("latin-1", "replace").decode("utf-8", "replace") for header in first]
        return _distinct([header.removeprefix("\ufeff") for header in first])

    def _csv_batches(self, columns: Sequence[int]) -> Iterator[Batch]:
        import pyarrow as pa
        from pyarrow import csv as arrow

        wrong: list[int] = []

        def notice(row: Any) -> str:
            wrong.append(row.number or 0)
            return "error"

        names = [str(at) for at in range(len(self.headers))]
        reading = arrow.ReadOptions(
            column_names=names, skip_rows_after_names=1, block_size=BLOCK, use_threads=False,
            encoding="utf8" if self.letters == "utf-8" else self.letters,
        )  # fmt: skip
        parsing = arrow.ParseOptions(
            delimiter=self.separator, newlines_in_values=True, ignore_empty_lines=False,
            invalid_row_handler=notice,
        )  # fmt: skip
        chosen = [names[at] for at in columns]
        texts = arrow.ConvertOptions(
            column_types=dict.fromkeys(chosen, pa.binary()), include_columns=chosen, strings_can_be_null=False
        )
        row = 2
        try:
            with pa.input_stream(str(self.path), compression="gzip" if self._packed else None) as stream:
                for batch in arrow.open_csv(stream, reading, parsing, texts):
                    yield Batch(row, batch.columns)
                    row += batch.num_rows
        except (pa.ArrowException, OSError, UnicodeError) as error:
            raise _csv_error(error, wrong, row) from error

    # --- Parquet

    def _parquet(self) -> Any:
        import pyarrow as pa
        import pyarrow.parquet as parquet

        try:
            return parquet.ParquetFile(self.path)
        except (pa.ArrowException, OSError) as broken:
            raise ListError(f"This Parquet file cannot be read: {str(broken).splitlines()[0][:200]}") from broken

    def _parquet_headers(self) -> list[str]:
        with self._parquet() as file:
            names = list(file.schema_arrow.names)
        if strange := next((name for name in names if names.count(name) > 1 or "\0" in name), None):
            said = f"“{shown(strange.encode('utf-8', 'surrogatepass'), 40)}”"
            raise ListError(f"A column's name holds a NUL: {said}." if "\0" in strange else f"Two columns are {said}.")
        return names

    def _parquet_batches(self, columns: Sequence[int]) -> Iterator[Batch]:
        import pyarrow as pa

        row, chosen = 1, [self.headers[at] for at in columns]
        try:
            with self._parquet() as file:
                for batch in file.iter_batches(batch_size=BATCH, columns=chosen, use_threads=False):
                    yield Batch(row, [batch.column(name) for name in chosen])
                    row += batch.num_rows
        except (pa.ArrowException, OSError) as broken:
            raise ListError(f"After row {row - 1:,} this Parquet file is damaged.") from broken

    # --- XLSX

    def _table(self) -> Any:
        try:
            return open_table(self.path.open("rb"), self.name)
        except TableError as wrong:
            raise ListError(str(wrong)) from wrong

    def _xlsx_headers(self) -> list[str]:
        return list(self._table().headers)

    def _xlsx_batches(self, columns: Sequence[int]) -> Iterator[Batch]:
        import pyarrow as pa

        rows = self._table().rows()
        try:
            while chunk := list(islice(rows, BATCH)):
                cells = [[row[at].encode("utf-8", "surrogatepass") for _, row in chunk] for at in columns]
                yield Batch(chunk[0][0], [pa.array(column, pa.binary()) for column in cells])
        except TableError as wrong:
            raise ListError(str(wrong)) from wrong


def _csv_error(error: Exception, wrong: Sequence[int], row: int) -> ListError:
    if wrong:
        said = "it has more or fewer cells than there are headers. Most often a path holds the separator; quote it."
        return ListError(said, wrong[0])
    if isinstance(error, UnicodeError):
        return ListError(f"After row {row - 1:,} its letters are not what was chosen for them.")
    if "straddling" in str(error):
        return ListError(f"A row after row {row - 1:,} does not end: a quotation mark is opened and never closed.")
    return ListError(f"After row {row - 1:,} it cannot be read: {str(error).splitlines()[0][:200]}")


def _distinct(headers: Sequence[str]) -> list[str]:
    return [header.strip() or f"column {at}" for at, header in enumerate(headers, 1)]


def _cells(column: Any) -> list[Any]:
    """The cells of a column, whatever is in them: a time finer or farther off than Python knows comes as text."""
    import pyarrow as pa

    return list((column.cast(pa.string()) if pa.types.is_temporal(column.type) else column).to_pylist())


def _text(cell: Any) -> str:
    if isinstance(cell, bytes):
        return cell.decode("utf-8", "backslashreplace")
    return "" if cell is None else str(cell)
