"""Rows of a text file (RFC 4180 and its relatives): which encoding, which separator, then record after record.

>>> import io
>>> list(Delimited(io.BytesIO(b"maker;serial\\r\\nKestrel;\\"A;1\\"\\r\\n")).rows())
[(1, ['maker', 'serial']), (2, ['Kestrel', 'A;1'])]
"""

from __future__ import annotations

import codecs
import csv
import io
from collections import Counter
from collections.abc import Iterator
from typing import BinaryIO

SEPARATORS = (",", ";", "\t", "|")
BLOCK = 1 << 20
SAMPLE_ROWS = 50
MOST_COLUMNS = 256
MOST_ROWS = 1_048_576  # what the largest sheet of a spreadsheet program has
MOST_CHARACTERS = 32_767  # of a cell, likewise
_UNDEFINED_1252 = b"\x81\x8d\x8f\x90\x9d"
_MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))


class TableError(ValueError):
    """A file that cannot be read as a table; the text is a sentence for the person who chose it."""


class Delimited:
    """A text file, read record by record; nothing of it is kept."""

    sheets: tuple[str, ...] = ()

    def __init__(self, data: BinaryIO) -> None:
        self._data = data
        self.warnings: list[str] = []
        self._encoding = self._find_encoding()
        self._separator = self._find_separator()

    @property
    def encoding(self) -> str:
        """As Python names it."""
        return self._encoding

    @property
    def separator(self) -> str:
        return self._separator

    def rows(self, width: int = 0) -> Iterator[tuple[int, list[str]]]:
        """Number and cells of each record, also of empty ones, counted as a spreadsheet program counts rows."""
        yield from self._records(self._separator, strict=True)

    def _records(self, separator: str, *, strict: bool) -> Iterator[tuple[int, list[str]]]:
        self._data.seek(0)
        text = io.TextIOWrapper(self._data, encoding=self._encoding, newline="")
        number = 0
        try:
            for number, cells in enumerate(csv.reader(text, delimiter=separator, strict=strict), start=1):
                yield number, _sound(number, cells)
        except csv.Error as wrong:
            raise TableError(
                f"Row {number + 1} of the file is no proper row ({wrong}). "
                "Most often a quotation mark is opened there and never closed."
            ) from None
        except UnicodeError:
            raise TableError(
                f"After row {number} the file cannot be read as {self._encoding}: it is damaged."
            ) from None
        finally:
            text.detach()

    def _find_encoding(self) -> str:
        """By its mark, else UTF-8 if every byte agrees, else Windows-1252 with a warning. Reads the file once."""
        self._data.seek(0)
        start = self._data.read(4096)
        if not start:
            raise TableError("The file is empty.")
        for mark, name in _MARKS:
            if start.startswith(mark):
                return name
        if name := _utf16_without_mark(start):
            return name
        return self._eight_bits()

    def _eight_bits(self) -> str:
        self._data.seek(0)
        decoder, utf8, lines = codecs.getincrementaldecoder("utf-8")(), True, 1
        odd = False
        while block := self._data.read(BLOCK):
            if (at := block.find(b"\0")) >= 0:
                line = lines + block.count(b"\n", 0, at)
                raise TableError(f"Line {line} holds a NUL character: the file is damaged, or is no table.")
            lines += block.count(b"\n")
            utf8 = utf8 and _decodes(decoder, block)
            odd = odd or any(byte in block for byte in _UNDEFINED_1252)
        if utf8 and _decodes(decoder, b"", final=True):
            return "utf-8"
        if odd:
            raise TableError("The letters of this file cannot be read. Save it again as UTF-8, then send it.")
        self.warnings.append("The file is not UTF-8. It is read as Windows-1252: look at the accented letters.")
        return "cp1252"

    def _find_separator(self) -> str:
        """The one that cuts the most of the first rows into the same number of cells, two or more."""
        return max(SEPARATORS, key=self._evenness)

    def _evenness(self, separator: str) -> tuple[int, int]:
        widths: Counter[int] = Counter()
        try:
            for number, cells in self._records(separator, strict=False):
                widths[len(cells)] += 1
                if number == SAMPLE_ROWS:
                    break
        except TableError:
            return (0, 0)
        widths = Counter({width: count for width, count in widths.items() if width > 1})
        width, count = max(widths.items(), key=lambda pair: (pair[1], pair[0]), default=(0, 0))
        return count, width


def _sound(number: int, cells: list[str]) -> list[str]:
    if number > MOST_ROWS:
        raise TableError(f"The file has more than {MOST_ROWS:,} rows. Cut it into several.")
    if len(cells) > MOST_COLUMNS:
        raise TableError(f"Row {number} has {len(cells):,} cells; {MOST_COLUMNS} are the most a table may have here.")
    for cell in cells:
        if len(cell) > MOST_CHARACTERS:
            raise TableError(
                f"Row {number} has a cell of {len(cell):,} characters. "
                "Most often a quotation mark is opened there and never closed."
            )
        if "\0" in cell:
            raise TableError(f"Row {number} holds a NUL character: the file is damaged, or is no table.")
    return cells


def _decodes(decoder: codecs.IncrementalDecoder, block: bytes, *, final: bool = False) -> bool:
    try:
        decoder.decode(block, final)
    except UnicodeDecodeError:
        return False
    return True


def _utf16_without_mark(start: bytes) -> str:
    """Latin text in UTF-16 has a NUL in nearly every second byte; which half tells the order."""
    if len(start) < 4 or len(start) % 2:
        return ""
    half = len(start) // 2
    low, high = start[0::2].count(0), start[1::2].count(0)
    if high > half * 0.6 and low == 0:
        return "utf-16-le"
    return "utf-16-be" if low > half * 0.6 and high == 0 else ""
