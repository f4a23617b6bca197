"""Rows of spans, read strictly; and the arithmetic of sets of spans.

A span is a first sector and a number of sectors. Rows come as tuples, as an array of rows, as a structured array or
as whole columns; they may be unsorted, doubled and overlapping, which is repaired by rule further on. What cannot be
true is refused with a sentence that names the row, counted from 1:

>>> read_spans([(0, 10), (990, 20)], total_sectors=1000)
Traceback (most recent call last):
    ...
labcases.bench.spans.BadSpan: Row 2: 20 sectors from sector 990 run past the end; the medium has 1,000 sectors.

A span of no sectors says nothing, and is allowed. All numbers are 64-bit integers; a row that does not fit is refused
before anything is added up, so that no sum can wrap around.

**Union without pairs.** Sort the starts and the ends *separately*. After the i-th end exactly as many spans have ended
as had started just when the next start lies beyond it; so a gap opens wherever ``start[i + 1] > end[i]``:

>>> firsts, ends = union(np.array([30, 0, 5]), np.array([40, 10, 12]))
>>> firsts.tolist(), ends.tolist()
([0, 30], [12, 40])
"""

from __future__ import annotations

import operator
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

Ints: TypeAlias = npt.NDArray[np.int64]
Codes: TypeAlias = npt.NDArray[np.uint8]
Span: TypeAlias = tuple[int, int]  # first sector, number of sectors
Rows: TypeAlias = Iterable[Any]

LARGEST = 2**63 - 1  # the largest sector count a 64-bit integer holds


class BadSpan(ValueError):
    """A row that cannot be true of this medium. ``row`` counts from 1; None if no single row is at fault."""

    def __init__(self, sentence: str, row: int | None = None) -> None:
        super().__init__(f"Row {row}: {sentence}" if row is not None else sentence[:1].upper() + sentence[1:])
        self.row = row


class Batch(NamedTuple):
    """Checked columns of equal length: first sectors, numbers of sectors, codes of their states."""

    firsts: Ints
    sectors: Ints
    codes: Codes


def total_of(sectors: object) -> int:
    """A medium's number of sectors as an int, or BadSpan."""
    number = _whole(sectors, None, "number of sectors of the medium")
    if number < 0:
        raise BadSpan(f"A medium cannot have {number:,} sectors.")
    return number


def read_batch(rows: Rows, total_sectors: int, codes: Mapping[str, int]) -> Batch:
    """Rows ``(first_lba, sectors, state)`` as checked columns; ``codes`` names the states there are."""
    firsts, sectors, states = _columns(rows, (3,))
    spans = _checked(firsts, sectors, total_sectors)
    return Batch(*spans, _state_codes(states, codes))


def read_spans(rows: Rows, total_sectors: int) -> tuple[Ints, Ints]:
    """Rows ``(first_lba, sectors)`` as checked columns; anything in a third place is not looked at."""
    columns = _columns(rows, (2, 3))
    return _checked(columns[0], columns[1], total_sectors)


def union(firsts: Ints, ends: Ints) -> tuple[Ints, Ints]:
    """The sectors in any of the spans ``[first, end)``, as sorted spans that neither overlap nor touch."""
    some = ends > firsts
    if not some.all():
        firsts, ends = firsts[some], ends[some]
    if firsts.size == 0:
        return firsts, ends
    firsts, ends = np.sort(firsts, kind="stable"), np.sort(ends, kind="stable")  # stable: near linear when sorted
    gap = firsts[1:] > ends[:-1]
    return firsts[np.concatenate(([True], gap))], ends[np.concatenate((gap, [True]))]


def _columns(rows: Rows, widths: tuple[int, ...]) -> Sequence[Any]:
    if isinstance(rows, np.ndarray):
        return _columns_of_array(rows, widths)
    if isinstance(rows, list | tuple) and _are_columns(rows, widths):
        if len({len(column) for column in rows}) > 1:
            raise BadSpan("The columns of the table are not equally long.")
        return rows
    return _columns_of_rows(list(rows), widths)


def _columns_of_array(rows: npt.NDArray[Any], widths: tuple[int, ...]) -> Sequence[Any]:
    if rows.dtype.names is not None:
        if len(rows.dtype.names) not in widths:
            raise BadSpan(f"The table has {len(rows.dtype.names)} columns; {_either(widths)} are needed.")
        return [rows[name] for name in rows.dtype.names]
    if rows.size == 0:
        return [rows.ravel()] * widths[-1]
    if rows.ndim == 2 and rows.shape[1] in widths:
        return [rows[:, at] for at in range(rows.shape[1])]
    return _columns_of_rows(list(rows), widths)


def _are_columns(rows: Sequence[Any], widths: tuple[int, ...]) -> bool:
    arrays = len(rows) in widths and all(isinstance(column, np.ndarray) and column.ndim == 1 for column in rows)
    return arrays and all(column.dtype.kind in "iu" for column in rows[:2])


def _columns_of_rows(rows: list[Any], widths: tuple[int, ...]) -> Sequence[Any]:
    try:
        found = set(map(len, rows))
    except TypeError:
        found = {-1}
    if not found <= set(widths):
        number = next(n for n, row in enumerate(rows, 1) if not hasattr(row, "__len__") or len(row) not in widths)
        raise BadSpan(f"{_either(widths)} values are needed: first sector, number of sectors, state.", number)
    try:
        return [[row[at] for row in rows] for at in range(min(found, default=widths[-1]))]
    except (KeyError, TypeError) as unreadable:
        raise BadSpan("The rows are not lists of values: first sector, number of sectors, state.") from unreadable


def _either(widths: tuple[int, ...]) -> str:
    return " or ".join(str(width) for width in widths)


def _checked(firsts: Any, sectors: Any, total: int) -> tuple[Ints, Ints]:
    starts, lengths = _whole_numbers(firsts, "first sector"), _whole_numbers(sectors, "number of sectors")
    bad = (starts < 0) | (lengths < 0) | (starts > total)
    bad |= lengths > total - np.clip(starts, 0, total)  # never start + length, which could wrap around
    if bad.any():
        at = int(np.argmax(bad))
        raise BadSpan(_why_not(int(starts[at]), int(lengths[at]), total), at + 1)
    return starts, lengths


def _why_not(first: int, sectors: int, total: int) -> str:
    if first < 0:
        return f"the span starts at {first:,}; sectors are counted from 0."
    if sectors < 0:
        return f"the span is {sectors:,} sectors long; a length cannot be negative."
    run = "1 sector from sector {0:,} runs" if sectors == 1 else "{1:,} sectors from sector {0:,} run"
    return f"{run.format(first, sectors)} past the end; the medium has {total:,} sectors."


def _whole_numbers(values: Any, what: str) -> Ints:
    """A column as int64; whatever numpy would round, wrap or guess at goes value by value instead."""
    if len(values) == 0:
        return np.empty(0, np.int64)
    if isinstance(values, np.ndarray) and values.dtype.kind == "U":
        return _numbers_in_text(values, what)
    try:
        array = np.asarray(values)
    except ValueError:  # a row within a row
        array = np.empty(0, np.object_)
    if array.dtype.kind == "i":
        return array.astype(np.int64, copy=False)
    if isinstance(values, np.ndarray):
        values = values.tolist()
    return np.array([_whole(value, row, what) for row, value in enumerate(values, 1)], np.int64)


def _numbers_in_text(values: npt.NDArray[Any], what: str) -> Ints:
    """A table that numpy turned into text as a whole because its third column is text."""
    numbers = []
    for row, text in enumerate(values.tolist(), 1):
        try:
            numbers.append(_whole(int(text), row, what))
        except ValueError as unreadable:
            raise BadSpan(f"the {what} is not a whole number: {text[:40]!r}.", row) from unreadable
    return np.array(numbers, np.int64)


def _whole(value: object, row: int | None, what: str) -> int:
    if isinstance(value, bool | np.bool_) or not hasattr(value, "__index__"):
        raise BadSpan(f"the {what} is not a whole number: {str(value)[:40]!r}.", row)
    number = operator.index(value)
    if not -LARGEST <= number <= LARGEST:
        raise BadSpan(f"the {what} does not fit into 64 bits (it needs {number.bit_length()}).", row)
    return number


def _state_codes(states: Any, codes: Mapping[str, int]) -> Codes:
    if isinstance(states, np.ndarray):
        if states.dtype == np.uint8:
            return _checked_codes(states, codes)
        if states.dtype.kind == "U":
            return _codes_of_text(states, codes)
        states = states.tolist()
    try:
        return np.fromiter(map(codes.__getitem__, states), np.uint8, len(states))
    except (KeyError, TypeError) as unknown:
        row = next(n for n, state in enumerate(states, 1) if not isinstance(state, str) or state not in codes)
        raise BadSpan(_unknown_state(states[row - 1], codes), row) from unknown


def _checked_codes(states: Codes, codes: Mapping[str, int]) -> Codes:
    bad = states > max(codes.values())
    if bad.any():
        at = int(np.argmax(bad))
        raise BadSpan(_unknown_state(int(states[at]), codes), at + 1)
    return states


def _codes_of_text(states: npt.NDArray[Any], codes: Mapping[str, int]) -> Codes:
    found = np.full(states.shape, 255, np.uint8)
    for name, code in codes.items():
        found[states == name] = code
    bad = found == 255
    if bad.any():
        at = int(np.argmax(bad))
        raise BadSpan(_unknown_state(str(states[at]), codes), at + 1)
    return found


def _unknown_state(state: object, codes: Mapping[str, int]) -> str:
    return f"there is no state {str(state)[:40]!r}; the states are {', '.join(codes)}."
