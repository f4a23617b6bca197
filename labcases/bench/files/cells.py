"""Cells of a list of files read as columns: whole columns at once, and one by one only to say which row is wrong.

>>> import pyarrow as pa
>>> notes = Notes()
>>> sizes(pa.array([b"1,204", b"", b"-3"]), 2, notes).tolist()
[1204, -1, -1]
>>> list(notes.sentences())
['Row 4 has a negative size: its size is not known.']
>>> said = extents(pa.array([b"2048-2063; 4096-4103", b"", b"4990-5009"]), 1, How(extent="last"), 5_000, notes)
>>> said.firsts.tolist(), said.sectors.tolist(), said.sizes.tolist()
([2048, 4096], [16, 8], [2, 0, 0])
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

import numpy as np

from labcases.bench.files.paths import shown
from labcases.bench.files.source import ListError
from labcases.bench.files.states import NOT, PARTIAL, UNKNOWN, WHOLE, Extents
from labcases.bench.spans import LARGEST, Ints
from labcases.bench.spantable import Extent, Unit, fold

NO_TIME = np.datetime64("NaT", "us")
YEARS = (-62_135_596_800, 253_402_300_799)  # seconds from 1970 to the first and the last second of the years 1 to 9999
WRITTEN_BY_RULE = {
    "path": ("no path", "it is left out", "they are left out"),
    "size": ("a negative size", "its size is not known", "their size is not known"),
    "time": ("a time that cannot be read", "it is left empty", "it is left empty"),
    "beyond": (
        "extents beyond the end of the medium",
        "they are left aside, and its state is what the list says",
        "they are left aside, and their state is what the list says",
    ),
    "check": (
        "a word for the check that nobody gave a meaning",
        "it is taken as not known",
        "it is taken as not known",
    ),
}

# What lists say of a file's own check; common words only.
CHECKS = {
    WHOLE: "whole ok good intact valid complete passed opens true yes 1",
    PARTIAL: "partial partly damaged truncated incomplete corrupt broken",
    NOT: "not lost bad failed fail empty invalid unreadable overwritten false no 0",
    UNKNOWN: "unknown unchecked untested",
}
MEANS = {word: code for code, words in CHECKS.items() for word in words.split()} | {"": UNKNOWN}


@dataclass(frozen=True)
class How:
    """What the numbers and words of a list mean. ``base`` is the sector that its extents are counted from."""

    unit: Unit = "sectors"
    extent: Extent = "sectors"
    base: int = 0
    sector_bytes: int = 512
    separator: str = "/"
    checks: Mapping[str, int] = field(default_factory=dict)


class Notes:
    """What was put right by rule: how often, and in which row first."""

    def __init__(self) -> None:
        self._seen: dict[str, tuple[int, int]] = {}

    def add(self, rule: str, rows: Any, row: int) -> None:
        """``rows`` are true where the rule was used; the first of them is row number ``row``."""
        if (many := int(np.count_nonzero(rows))) and rule in self._seen:
            self._seen[rule] = (self._seen[rule][0] + many, self._seen[rule][1])
        elif many:
            self._seen[rule] = (many, row + int(np.argmax(rows)))

    def many(self, rule: str) -> int:
        return self._seen.get(rule, (0, 0))[0]

    def first(self, rule: str) -> int:
        return self._seen.get(rule, (0, 0))[1]

    def sentences(self) -> Iterator[str]:
        for rule, (many, row) in self._seen.items():
            what, one, several = WRITTEN_BY_RULE[rule]
            begin = f"Row {row} has" if many == 1 else f"{many:,} rows, the first is row {row}, have"
            yield f"{begin} {what}: {one if many == 1 else several}."


def sizes(column: Any, row: int, notes: Notes) -> Ints:
    """Bytes of each file, -1 where nobody knows. Raises ListError."""
    numbers = _numbers(column, row, "size")
    notes.add("size", numbers < -1, row)
    return np.maximum(numbers, -1)


def _numbers(column: Any, row: int, what: str) -> Ints:
    """Whole numbers; -1 for an empty cell, less than -1 for whatever is negative."""
    import pyarrow as pa
    import pyarrow.compute as compute

    column = _plain(column)
    if pa.types.is_floating(column.type):
        column = _whole(column, row, what)
    if pa.types.is_integer(column.type) and column.type != pa.uint64():
        found = compute.fill_null(column.cast(pa.int64()), -1).to_numpy(zero_copy_only=False)
        nulls = compute.is_null(column).to_numpy(zero_copy_only=False)
        return np.where((found == -1) & ~nulls, -2, found).astype(np.int64)
    texts = compute.fill_null(_bytes(column), b"")
    plain = compute.replace_substring_regex(texts, r"^\s+|\s+$", "")
    try:
        filled = compute.if_else(compute.equal(compute.binary_length(plain), 0), b"-1", plain)
        found = filled.cast(pa.string()).cast(pa.int64()).to_numpy(zero_copy_only=False)
    except pa.ArrowException:
        cells = texts.to_pylist()
        return np.array([_number(cell, row + at, what) for at, cell in enumerate(cells)], np.int64)
    empty = compute.equal(compute.binary_length(plain), 0).to_numpy(zero_copy_only=False)
    return np.where((found == -1) & ~empty, -2, found).astype(np.int64)


def _whole(column: Any, row: int, what: str) -> Any:
    """Whole numbers that came as floating ones, as tables with gaps often have them; a gap stays one."""
    import pyarrow as pa

    found = column.cast(pa.float64()).to_numpy(zero_copy_only=False)
    none = np.isnan(found)
    if (odd := ~none & ((found % 1 != 0) | (np.abs(found) >= 2**63))).any():
        at = int(np.argmax(odd))
        raise ListError(f"the {what} is no whole number of 64 bits: “{found[at]}”.", row + at)
    return pa.array(np.where(none, 0, found).astype(np.int64), mask=none)


def _number(cell: bytes, row: int, what: str) -> int:
    said = cell.decode("utf-8", "replace").strip()
    if re.fullmatch(r"[+-]?\d{1,3}([ ,.'’\u00a0\u202f]\d{3})+", said):
        said = re.sub(r"[^\d+-]", "", said)
    said = re.sub(r"[.,]0+$", "", said)
    if not said:
        return -1
    if not re.fullmatch(r"[+-]?[0-9]{1,40}", said):
        raise ListError(f"the {what} is no whole number: “{shown(said.encode(), 40)}”.", row)
    number = int(said)
    if number > LARGEST:
        raise ListError(f"the {what} does not fit into 64 bits.", row)
    return number if number >= 0 else -2


def times(column: Any, row: int, notes: Notes) -> Any:
    """Moments in UTC, as numpy datetimes of microseconds; NaT where none is told or none can be read."""
    import pyarrow as pa
    import pyarrow.compute as compute

    column = _plain(column)
    if pa.types.is_timestamp(column.type) or pa.types.is_date(column.type):
        return _possible(column, row, notes)
    texts = compute.fill_null(_bytes(column if not pa.types.is_integer(column.type) else column.cast(pa.string())), b"")
    try:
        filled = compute.if_else(compute.equal(compute.binary_length(texts), 0), None, texts)
        return _possible(filled.cast(pa.string()).cast(pa.timestamp("us")), row, notes)
    except pa.ArrowException:
        pass
    cells = texts.to_pylist()
    found = np.array([_moment(cell) for cell in cells], "datetime64[us]")
    notes.add("time", np.isnat(found) & np.array([bool(cell.strip()) for cell in cells], np.bool_), row)
    return found


def _possible(column: Any, row: int, notes: Notes) -> Any:
    """The moments of a column of times, those of the years that can be shown."""
    import pyarrow as pa
    import pyarrow.compute as compute

    column = column.cast(pa.timestamp("s")) if pa.types.is_date(column.type) else column
    second = {"s": 1, "ms": 10**3, "us": 10**6, "ns": 10**9}[column.type.unit]
    ticks = compute.fill_null(column.cast(pa.int64()), 0).to_numpy(zero_copy_only=False)
    odd = (ticks < max(YEARS[0] * second, -LARGEST)) | (ticks > min(YEARS[1] * second, LARGEST))
    notes.add("time", odd, row)
    kept = compute.if_else(pa.array(odd), None, column) if odd.any() else column
    return kept.cast(pa.timestamp("us"), safe=False).to_numpy(zero_copy_only=False).astype("datetime64[us]")


def _moment(cell: bytes) -> Any:
    said = cell.decode("utf-8", "replace").strip()
    try:
        if re.fullmatch(r"\d{9,11}(\.\d+)?", said):  # seconds since 1970
            return np.datetime64(int(float(said) * 1_000_000), "us")
        moment = datetime.fromisoformat(said)
        return np.datetime64(moment.astimezone(UTC).replace(tzinfo=None) if moment.tzinfo else moment, "us")
    except (ValueError, OverflowError):
        return NO_TIME


def checks(column: Any, row: int, how: How, notes: Notes) -> Any:
    """The codes of what the list says of its own check."""
    import pyarrow.compute as compute

    packed = compute.fill_null(_bytes(_plain(column)), b"").dictionary_encode()
    words = [_word(word.decode("utf-8", "replace")) for word in packed.dictionary.to_pylist()]
    means = MEANS | {_word(word): code for word, code in how.checks.items()}
    codes = np.array([means.get(word, 255) for word in words] or [0], np.uint8)[packed.indices.to_numpy()]
    notes.add("check", codes == 255, row)
    codes[codes == 255] = UNKNOWN
    return codes


def _word(cell: str) -> str:
    """A word of the check as it is compared and kept; a database keeps no NUL."""
    return fold(cell.replace("\0", " "))


def extents(column: Any, row: int, how: How, total: int, notes: Notes) -> Extents:
    """Extents of each file on the whole medium, in sectors. Raises ListError for what cannot be read."""
    firsts, second, counts = _pairs(column, row)
    owner, last = np.repeat(np.arange(counts.size), counts), how.extent == "last"
    if how.extent != "sectors" and (bad := second < firsts - last).any():
        raise ListError("an extent ends before it begins.", row + int(owner[np.argmax(bad)]))
    lengths = second if how.extent == "sectors" else np.minimum(second - firsts, LARGEST - last) + last
    if how.unit == "bytes":  # a sector that is touched is needed
        ends = np.where(lengths > 0, -(-(firsts + np.minimum(lengths, LARGEST - firsts)) // how.sector_bytes), 0)
        firsts = firsts // how.sector_bytes
        lengths = np.where(lengths > 0, ends - firsts, 0)
    room = total - how.base - firsts
    beyond = np.zeros(counts.size, np.bool_)
    beyond[owner[(lengths > room) | (room < 0)]] = True
    notes.add("beyond", beyond, row)
    kept = ~beyond[owner]
    return Extents(firsts[kept] + how.base, lengths[kept], np.where(beyond, 0, counts))


def _pairs(column: Any, row: int) -> tuple[Ints, Ints, Ints]:
    """Both numbers of each extent, and how many extents each row has."""
    import pyarrow as pa

    column = _plain(column)
    if pa.types.is_list(column.type) or pa.types.is_large_list(column.type):
        return _pairs_of_lists(column, row)
    return _pairs_of_texts(_bytes(column), row)


def _pairs_of_texts(column: Any, row: int) -> tuple[Ints, Ints, Ints]:
    import pyarrow as pa
    import pyarrow.compute as compute

    texts = compute.fill_null(column, b"")
    strange = compute.match_substring_regex(texts, r"[A-Za-z]|(?:^|[^0-9\s])\s*-\s*[0-9]|[0-9]{20}")
    if compute.any(strange).as_py():
        at = int(np.argmax(strange.to_numpy(zero_copy_only=False)))
        raise ListError(f"its extents cannot be read: “{shown(texts[at].as_py()[:40])}”.", row + at)
    spaced = compute.replace_substring_regex(texts, r"[^0-9]+", " ")
    split = compute.split_pattern(compute.utf8_trim_whitespace(spaced.cast(pa.string())), " ")
    many = compute.list_value_length(split).to_numpy(zero_copy_only=False).astype(np.int64)
    flat = split.flatten()
    empty = compute.equal(compute.binary_length(flat), 0).to_numpy(zero_copy_only=False)
    many = np.where(many > 0, many, 0)
    owner = np.repeat(np.arange(many.size), many)
    many = many - np.bincount(owner[empty], minlength=many.size)
    try:
        numbers = flat.filter(pa.array(~empty)).cast(pa.int64()).to_numpy(zero_copy_only=False)
    except pa.ArrowException:
        raise ListError("an extent in this row or after it does not fit into 64 bits.", row) from None
    return _halves(numbers, many, row)


def _halves(numbers: Ints, many: Ints, row: int) -> tuple[Ints, Ints, Ints]:
    if (odd := many % 2 == 1).any():
        raise ListError("its extents are not pairs of numbers.", row + int(np.argmax(odd)))
    if (numbers < 0).any():
        owner = np.repeat(np.arange(many.size), many)
        raise ListError("an extent has a negative number.", row + int(owner[np.argmax(numbers < 0)]))
    return numbers[0::2], numbers[1::2], many // 2


def _pairs_of_lists(column: Any, row: int) -> tuple[Ints, Ints, Ints]:
    import pyarrow as pa
    import pyarrow.compute as compute

    many = compute.fill_null(compute.list_value_length(column), 0).to_numpy(zero_copy_only=False).astype(np.int64)
    flat = column.flatten()
    if flat.null_count:
        raise ListError("an extent in this row or after it has no numbers.", row)
    try:
        if pa.types.is_struct(flat.type) and flat.type.num_fields == 2:
            both = [flat.field(at).cast(pa.int64()) for at in (0, 1)]
            if any(half.null_count for half in both):
                raise ListError("an extent in this row or after it has no numbers.", row)
            numbers = [half.to_numpy(zero_copy_only=False) for half in both]
            return _halves(np.stack(numbers, axis=1).ravel(), many * 2, row)
        if pa.types.is_integer(flat.type):
            return _halves(flat.cast(pa.int64()).to_numpy(zero_copy_only=False), many, row)
    except pa.ArrowException:
        raise ListError("an extent in this row or after it is no pair of numbers of 64 bits.", row) from None
    raise ListError("Its extents are lists of something else than pairs of whole numbers.")


def paths(column: Any) -> Any:
    """The paths as bytes."""
    import pyarrow.compute as compute

    return compute.fill_null(_bytes(_plain(column)), b"")


def _plain(column: Any) -> Any:
    """Without dictionary and chunks."""
    import pyarrow as pa

    if isinstance(column, pa.ChunkedArray):
        column = column.combine_chunks()
    return column.dictionary_decode() if pa.types.is_dictionary(column.type) else column


def _bytes(column: Any) -> Any:
    import pyarrow as pa

    whole = pa.types.is_integer(column.type) or pa.types.is_boolean(column.type)
    try:
        if not (pa.types.is_floating(column.type) or pa.types.is_decimal(column.type)):
            return (column.cast(pa.string()) if whole else column).cast(pa.binary())
    except pa.ArrowException:
        pass
    raise ListError(f"A column of {str(column.type)[:60]} is not what was chosen for it.")


def words_in(cells: Sequence[str]) -> list[str]:
    """The different words of some cells, folded, in their order."""
    return list(dict.fromkeys(_word(cell) for cell in cells))
