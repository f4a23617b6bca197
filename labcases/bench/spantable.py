"""A table of spans in anybody's words, read as columns of ours: first sector, number of sectors, state, delay.

Whoever made the table chose the columns' names and order, decimal or hexadecimal numbers, sectors or bytes, and whether
a span is given by its length, by its last sector or by the one behind it; ``How`` says what was chosen. Columns come as
text, whole, since tables have millions of rows.

>>> how = How(unit="bytes", extent="end", states={"ok": "read", "bad": "unreadable"})
>>> said = read_table({"first": ["0x0", "5120"], "end": ["5120", "0x1401"], "state": ["OK", "bad"]}, how, total=100)
>>> said.firsts.tolist(), said.sectors.tolist(), said.codes.tolist()
([0, 10], [10, 1], [5, 3])

**Repaired by rule**, and said in ``notes``: rows in no order, rows that overlap or stand twice (the strongest word
stands), rows that hold nothing, spans of bytes that begin or end within a sector (what is `read` loses the sector that
was read in part; every other state takes it whole). **Refused**, with the row's number as a spreadsheet shows it: what
is no number, negative or too large for 64 bits, ends before it begins, runs past the end of the medium, or has a state
that nobody gave a meaning.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from labcases.bench.coverage import CODES
from labcases.bench.spans import LARGEST, BadSpan, Codes, Ints
from labcases.core.units import counted

Unit = Literal["sectors", "bytes"]
Extent = Literal["sectors", "last", "end"]  # the second number: a length, the last one, or the one behind the last
EXTENTS: tuple[Extent, ...] = ("sectors", "last", "end")
NOTHING = ""  # a word that says nothing of a span's state: such rows are left aside

# What people write, folded; common words only. A word that is not here is asked for.
WORDS = {
    "read": "read ok good done fine finished copied recovered clean success",
    "doubtful": "doubtful suspect suspicious unsure uncertain unstable",
    "unreadable": "unreadable bad error errors failed fail defective unrecovered",
    "skipped": "skipped skip jumped passed-over postponed later",
    "left_out": "left-out excluded ignored omitted deselected",
    "unreached": "unreached unread not-read untried not-tried pending remaining open todo none unknown",
}
MEANS = {word.replace("-", " "): state for state, words in WORDS.items() for word in words.split()}

_PLAIN = re.compile(r"[+-]?[0-9]+")
_HEX = re.compile(r"[+-]?(0[xX])?[0-9a-fA-F]+[hH]?")
_GROUPED = re.compile(r"[+-]?[0-9]{1,3}([ \u00a0\u202f'_.,])[0-9]{3}(\1[0-9]{3})*")
_WHOLE = re.compile(r"[+-]?[0-9]+[.,]0+")


@dataclass(frozen=True)
class How:
    """What the numbers and words of a table mean. ``states``: their word to ours (or NOTHING).

    ``everything`` is the state of all rows of a table without a column for it. ``hexadecimal`` is for numbers without
    a mark of their own; ``0x…`` is always read as what it is.
    """

    unit: Unit = "sectors"
    extent: Extent = "sectors"
    hexadecimal: bool = False
    states: Mapping[str, str] = field(default_factory=dict)
    everything: str = "read"


class Said(NamedTuple):
    """The spans of a table, in its order; ``delays`` in milliseconds, None when it has no column for them."""

    firsts: Ints
    sectors: Ints
    codes: Codes
    delays: npt.NDArray[np.float64] | None
    notes: tuple[str, ...]


def fold(word: str) -> str:
    """A state's word without what does not matter: case, hyphens, doubled blanks."""
    return " ".join(word.casefold().replace("-", " ").replace("_", " ").split())


def words_in(column: Sequence[str] | Any) -> list[str]:
    """The different words of a column of states, folded, in order of their first row."""
    seen = column.unique().to_pylist() if hasattr(column, "unique") else list(dict.fromkeys(column))
    return list(dict.fromkeys(fold(word or "") for word in seen))


def read_table(
    columns: Mapping[str, Sequence[str] | Any],
    how: How,
    *,
    total: int,
    sector_bytes: int = 512,
    rows: Sequence[int] | Ints | None = None,
) -> Said:
    """The spans that the columns give; ``rows`` are the numbers of their rows, from 1 on unless given.

    ``columns`` holds "first", one of "sectors", "last" or "end" as ``how.extent`` says, and may hold "state" and
    "delay". Raises BadSpan.
    """
    numbers = _Rows(rows)
    first = _numbers(columns["first"], how.hexadecimal, "beginning", numbers)
    second = _numbers(columns[how.extent], how.hexadecimal, "length" if how.extent == "sectors" else "end", numbers)
    codes, known = _codes(columns.get("state"), how, first.size, numbers)
    notes: list[str] = []
    length = _lengths(first, second, how, numbers)
    if how.unit == "bytes":
        first, length = _whole_sectors(first, length, codes, sector_bytes, numbers, notes)
    _must_lie_within(first, length, total, numbers)
    delays = _delays(columns.get("delay"), numbers)
    if not known.all():
        notes.append(f"{_many(~known, numbers)} no state and left aside.")
        first, length, codes = first[known], length[known], codes[known]
        delays, numbers = delays if delays is None else delays[known], numbers.only(known)
    notes += _described(first, length, numbers)
    return Said(first, length, codes, delays, tuple(notes))


class _Rows:
    """The numbers of the rows, as the reader of the table sees them."""

    def __init__(self, rows: Sequence[int] | Ints | None) -> None:
        self._rows = None if rows is None else np.asarray(rows, np.int64)

    def __getitem__(self, at: int) -> int:
        return at + 1 if self._rows is None else int(self._rows[at])

    def only(self, chosen: npt.NDArray[np.bool_]) -> _Rows:
        return _Rows(np.arange(1, chosen.size + 1)[chosen] if self._rows is None else self._rows[chosen])


def _numbers(column: Any, hexadecimal: bool, what: str, rows: _Rows) -> Ints:
    """Whole numbers; all at once when they are plain, one by one when they are not, so that the row can be named."""
    if isinstance(column, np.ndarray) and column.dtype.kind in "iu":
        return np.array([_in_range(int(n), what, rows[at]) for at, n in enumerate(column)], np.int64)
    if not hexadecimal and (quick := _all_plain(column)) is not None:
        return quick
    texts = column.to_pylist() if hasattr(column, "to_pylist") else column
    return np.array([_number(text, hexadecimal, what, rows[at]) for at, text in enumerate(texts)], np.int64)


def _all_plain(column: Any) -> Ints | None:
    import pyarrow as pa
    import pyarrow.compute as compute

    try:
        texts = column if hasattr(column, "to_pylist") else pa.array(column, pa.string())
        numbers = compute.cast(compute.utf8_trim_whitespace(texts), pa.int64())
    except (pa.ArrowException, TypeError):
        return None
    if numbers.null_count or (len(numbers) and compute.any(compute.match_substring(texts, "x")).as_py()):
        return None
    found: Ints = numbers.to_numpy().astype(np.int64)
    return None if found.size and found.min() == -LARGEST - 1 else found


def _number(text: str | None, hexadecimal: bool, what: str, row: int) -> int:
    said = (text or "").strip()
    if not said:
        raise BadSpan(f"the {what} is missing.", row)
    marked = said.lstrip("+-")[:2] in ("0x", "0X")
    if (hexadecimal or marked) and _HEX.fullmatch(said):
        return _in_range(int(said.rstrip("hH"), 16), what, row)
    if not hexadecimal and _PLAIN.fullmatch(said):
        return _in_range(int(said), what, row) if len(said) < 40 else _too_large(what, row)
    if not hexadecimal and _GROUPED.fullmatch(said):
        return _in_range(int(re.sub(r"[^0-9+-]", "", said)), what, row)
    if not hexadecimal and _WHOLE.fullmatch(said):  # as spreadsheets write whole numbers at times
        return _in_range(int(re.split("[.,]", said)[0]), what, row)
    kind = "hexadecimal number" if hexadecimal else "whole number"
    raise BadSpan(f"the {what} is no {kind}: “{said[:40]}”.", row)


def _in_range(number: int, what: str, row: int) -> int:
    if number < 0:
        raise BadSpan(f"the {what} is {number:,}; it cannot be negative.", row)
    return number if number <= LARGEST else _too_large(what, row)


def _too_large(what: str, row: int) -> int:
    raise BadSpan(f"the {what} does not fit into 64 bits.", row)


def _lengths(first: Ints, second: Ints, how: How, rows: _Rows) -> Ints:
    for what, column in (("beginning", first), ("length" if how.extent == "sectors" else "end", second)):
        if (column < 0).any():
            at = int(np.argmax(column < 0))
            _in_range(int(column[at]), what, rows[at])
    if how.extent == "sectors":
        over = second > LARGEST - first
        if over.any():
            _too_large("end", rows[int(np.argmax(over))])
        return second
    last = how.extent == "last"
    if (early := second < first - last).any():
        at = int(np.argmax(early))
        raise BadSpan(f"it ends at {int(second[at]):,}, before it begins at {int(first[at]):,}.", rows[at])
    if last and (over := second == LARGEST).any():  # the sector behind it has no number
        _too_large("end", rows[int(np.argmax(over))])
    length: Ints = second - first + last
    return length


def _whole_sectors(
    first: Ints, length: Ints, codes: Codes, size: int, rows: _Rows, notes: list[str]
) -> tuple[Ints, Ints]:
    end = first + length
    inward = codes == CODES["read"]
    odd = (first % size != 0) | (end % size != 0)
    lower, upper = first // size, -(-end // size)
    begin = np.where(inward, -(-first // size), lower)
    finish = np.maximum(np.where(inward, end // size, upper), begin)
    finish = np.where(length == 0, begin, finish)
    if odd.any():
        notes.append(
            f"{_many(odd, rows)} part of a sector of {size} bytes: a sector read in part does not count as read."
        )
    return begin, finish - begin


def _must_lie_within(first: Ints, length: Ints, total: int, rows: _Rows) -> None:
    bad = (first > total) | (length > total - np.clip(first, 0, total))
    if bad.any():
        at = int(np.argmax(bad))
        raise BadSpan(
            f"{counted(int(length[at]), 'sector')} from sector {int(first[at]):,} "
            f"{'runs' if length[at] == 1 else 'run'} past the end; the medium has {total:,} sectors.",
            rows[at],
        )


def _codes(column: Any, how: How, count: int, rows: _Rows) -> tuple[Codes, npt.NDArray[np.bool_]]:
    """The code of each row's state, and whether it has one."""
    if column is None:
        return np.full(count, CODES[how.everything], np.uint8), np.ones(count, np.bool_)
    import pyarrow as pa
    import pyarrow.compute as compute

    texts = column if hasattr(column, "to_pylist") else pa.array(column, pa.string())
    if isinstance(texts, pa.ChunkedArray):
        texts = texts.combine_chunks()
    packed = compute.fill_null(texts, "").dictionary_encode()
    packed = packed.combine_chunks() if isinstance(packed, pa.ChunkedArray) else packed
    words, places = [fold(word) for word in packed.dictionary.to_pylist()], packed.indices.to_numpy()
    known = {fold(word): state for word, state in how.states.items()}
    meanings = [known.get(word) for word in words]
    for at, meaning in enumerate(meanings):
        if meaning is None or (meaning != NOTHING and meaning not in CODES):
            row = rows[int(np.argmax(places == at))]
            raise BadSpan(f"nobody said what the state “{words[at][:40]}” means.", row)
    table = np.array([CODES.get(meaning or "", 255) for meaning in meanings] or [255], np.uint8)
    codes = table[places] if places.size else np.empty(0, np.uint8)
    return codes, codes != 255


def _delays(column: Any, rows: _Rows) -> npt.NDArray[np.float64] | None:
    if column is None:
        return None
    texts = column.to_pylist() if hasattr(column, "to_pylist") else column
    found = np.full(len(texts), np.nan)
    for at, text in enumerate(texts):
        if said := (text or "").strip().replace(",", "."):
            try:
                found[at] = float(said)
            except ValueError:
                raise BadSpan(f"the delay is no number: “{said[:40]}”.", rows[at]) from None
            if not 0 <= found[at] < 1e12:
                raise BadSpan(f"the delay cannot be {said[:40]} milliseconds.", rows[at])
    return found


def _described(first: Ints, length: Ints, rows: _Rows) -> list[str]:
    """What was unusual and was put right by rule."""
    notes = []
    if (empty := length == 0).any():
        notes.append(f"{_many(empty, rows)} no sector and said nothing.")
    back = np.flatnonzero(first[1:] < first[:-1]) + 1
    if back.size:
        notes.append(f"Row {rows[int(back[0])]} begins before the row above it; the rows were put in order.")
    order = np.lexsort((-length, first))
    order = order[length[order] > 0]
    reach = np.maximum.accumulate(first[order] + length[order]) if order.size else order
    over = np.flatnonzero(first[order][1:] < reach[:-1]) + 1
    if over.size:
        row = rows[int(order[over[0]])]
        many = "1 row lies" if over.size == 1 else f"{over.size:,} rows lie"
        notes.append(f"{many} over another, the first is row {row}; where they do, the strongest word stands.")
    return notes


def _many(chosen: npt.NDArray[np.bool_], rows: _Rows) -> str:
    count, first = int(chosen.sum()), rows[int(np.argmax(chosen))]
    return f"Row {first} holds" if count == 1 else f"{count:,} rows, the first is row {first}, hold"
