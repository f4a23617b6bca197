"""From the rows of a table to values: which column is which field, what a cell says, what becomes of a row.

>>> fields = [Field("serial", "Serial", required=True), Field("sectors", "Sectors", read=whole(least=1))]
>>> mapping = guess(["S/N", "LBA", "Serial"], fields)
>>> mapping
{'serial': 2}
>>> read_row(["", "-4", "K7"], {"serial": 2, "sectors": 1}, fields).mistakes
['Sectors (column B): “-4” is less than 1.']
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import StrEnum
from typing import Any

from labcases.core.lists import plain_cell
from labcases.core.text import folded, many_lines, one_line

SPREADSHEET_ERRORS = ("#REF!", "#N/A", "#VALUE!", "#DIV/0!", "#NAME?", "#NUM!", "#NULL!", "#SPILL!", "#CALC!")
_DAY_ZERO = date(1899, 12, 30)  # day numbers of spreadsheets, 1900 date system (ECMA-376 part 1, 18.17.4.1)
_MANY = 2**53 - 1


class Fate(StrEnum):
    """What becomes of a row."""

    NEW = "new"
    CHANGES = "changes"
    SAME = "same"
    REFUSED = "refused"


def text(value: str) -> str:
    """One clean line."""
    return one_line(value)


@dataclass(frozen=True)
class Field:
    """Something a row can say. ``read`` turns the cell's text into a value, or raises ValueError with a sentence."""

    key: str
    label: str
    aliases: Sequence[str] = ()
    required: bool = False
    read: Callable[[str], Any] = text
    help: str = ""


@dataclass(frozen=True)
class Row:
    """What a row says: values by field (blank cells are left out), and what is wrong with it, in sentences."""

    values: dict[str, Any]
    mistakes: list[str] = field(default_factory=list)


def guess(headers: Sequence[str], fields: Sequence[Field]) -> dict[str, int]:
    """The column of each field whose name, or another name of it, is a header. No column serves twice."""
    found: dict[str, int] = {}
    for spelling in (_whole_header, _last_part, _without_brackets):
        for one in fields:
            names = {_key(name) for name in (one.key, one.label, *one.aliases)}
            for column, header in enumerate(headers):
                if one.key not in found and column not in found.values() and _key(spelling(header)) in names:
                    found[one.key] = column
    return {one.key: found[one.key] for one in fields if one.key in found}


def _whole_header(header: str) -> str:
    return header


def _last_part(header: str) -> str:
    return header.rpartition(": ")[2]


def _without_brackets(header: str) -> str:
    return re.sub(r"\s*[(\[].*?[)\]]", "", header.rpartition(": ")[2])


def _key(name: str) -> str:
    return re.sub(r"[^\w]|_", "", folded(name))


def signature(headers: Sequence[str]) -> str:
    """SHA-256 over the headers however they are typed: the same layout comes back under the same signature."""
    return hashlib.sha256("\x1f".join(_key(header) for header in headers).encode()).hexdigest()


def read_row(cells: Sequence[str], mapping: Mapping[str, int], fields: Sequence[Field]) -> Row:
    """The values of a row, and a sentence for each cell that cannot be read, with its column."""
    values: dict[str, Any] = {}
    mistakes: list[str] = []
    for one in fields:
        column = mapping.get(one.key, -1)
        cell = plain_cell(cells[column]).strip() if 0 <= column < len(cells) else ""
        try:
            if cell:
                values[one.key] = one.read(_no_error(cell))
            elif one.required:
                raise ValueError("is needed, and the cell is empty.")
        except ValueError as wrong:
            where = f" (column {letters(column)})" if column >= 0 else ""
            mistakes.append(f"{one.label}{where}: {wrong}")
    return Row(values, mistakes)


def letters(column: int) -> str:
    """The letters over a column counted from 0, as spreadsheet programs show them."""
    name, n = "", column + 1
    while n:
        n, digit = divmod(n - 1, 26)
        name = chr(65 + digit) + name
    return name


def _no_error(cell: str) -> str:
    if cell.upper() in SPREADSHEET_ERRORS:
        raise ValueError(f"the spreadsheet itself says {cell} here.")
    return cell


def shown(cell: str) -> str:
    """A cell quoted in a sentence, not endless."""
    line = one_line(cell)
    return f"“{line if len(line) <= 40 else line[:39] + '…'}”"


# --- readers: what the cells of a field may say ---------------------------------------------------------------------


def line(most: int = 300) -> Callable[[str], str]:
    """One line of at most so many characters."""

    def read(cell: str) -> str:
        value = one_line(cell)
        if len(value) > most:
            raise ValueError(f"{shown(cell)} has {len(value)} characters; {most} are the most.")
        return value

    return read


def prose(most: int = 20_000) -> Callable[[str], str]:
    """Several lines."""

    def read(cell: str) -> str:
        value = many_lines(cell)
        if len(value) > most:
            raise ValueError(f"has {len(value):,} characters; {most:,} are the most.")
        return value

    return read


def label_text(most: int = 100) -> Callable[[str], str]:
    """What stands on a label: a serial or model. A number the spreadsheet has rounded is refused."""

    def read(cell: str) -> str:
        if re.fullmatch(r"\d([.,]\d+)?E\+?\d+", cell, re.IGNORECASE):
            raise ValueError(f"{shown(cell)} was shortened by the spreadsheet. Make the column text, type it again.")
        return line(most)(cell)

    return read


def whole(*, least: int = 0, most: int = _MANY) -> Callable[[str], int]:
    """A whole number; group marks are read over: 1,953,525,168 or 1 953 525 168."""

    def read(cell: str) -> int:
        plain = re.sub(r"\.0+$", "", cell)
        if re.fullmatch(r"[+-]?\d{1,3}([ ,.'’\u00a0\u202f]\d{3})+", plain):
            plain = re.sub(r"[^\d+-]", "", plain)
        if not re.fullmatch(r"[+-]?\d{1,20}", plain, re.ASCII):
            raise ValueError(f"{shown(cell)} is no whole number.")
        number = int(plain)
        if number < least:
            raise ValueError(f"{shown(cell)} is less than {least}.")
        if number > most:
            raise ValueError(f"{shown(cell)} is more than {most:,}, which cannot be.")
        return number

    return read


def day(cell: str) -> date:
    """A date: 2024-03-09, 9.3.2024, a day number of the spreadsheet; 9/3/2024 only when it can be read one way."""
    found = _day(cell.strip())
    if not 1950 <= found.year <= 2200:
        raise ValueError(f"{shown(cell)} lies in the year {found.year}. Look at it again.")
    return found


def _day(cell: str) -> date:
    start = re.match(r"(\d{4})[-/](\d{1,2})[-/](\d{1,2})(?:$|[T ]\d)", cell)
    if start:
        return _date(cell, *map(int, start.groups()))
    if re.fullmatch(r"\d{5}(\.\d+)?", cell):
        return _DAY_ZERO + timedelta(days=int(cell[:5]))
    parts = re.fullmatch(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4})", cell)
    if not parts:
        raise ValueError(f"{shown(cell)} is no date. Write it as 2024-03-09.")
    first, mark, second, year = int(parts[1]), parts[2], int(parts[3]), int(parts[4])
    if mark != "." and first <= 12 and second <= 12 and first != second:
        raise ValueError(f"{shown(cell)} can be read as two dates. Write the year first: 2024-03-09.")
    return _date(cell, year, first, second) if mark != "." and second > 12 else _date(cell, year, second, first)


def _date(cell: str, year: int, month: int, day_of_month: int) -> date:
    try:
        return date(year, month, day_of_month)
    except ValueError:
        raise ValueError(f"{shown(cell)} is no day of the calendar.") from None


def one_of(words: Mapping[str, str]) -> Callable[[str], str]:
    """One of some words: ``words`` maps each spelling that is understood to its value, the usual one first."""
    values = {_key(word): value for word, value in words.items()}
    usual = {value: word for word, value in reversed(list(words.items()))}

    def read(cell: str) -> str:
        if _key(cell) not in values:
            raise ValueError(f"{shown(cell)} is not known here. Write one of: {', '.join(reversed(usual.values()))}.")
        return values[_key(cell)]

    return read


def several_of(words: Mapping[str, str]) -> Callable[[str], list[str]]:
    """Some of these words, with commas, semicolons, + or line ends between them; each is taken once."""
    read_one = one_of(words)

    def read(cell: str) -> list[str]:
        parts = [part for part in re.split(r"[,;+/|\n]| and ", cell) if part.strip()]
        return list(dict.fromkeys(read_one(part) for part in parts))

    return read
