"""Spans as a bench computer sends them: CSV with a line of headers, or one JSON object a line.

Columns are ``first``, then one of ``sectors`` (a length), ``last`` or ``end`` (the one behind the last), ``state``
(read, doubtful, unreadable, skipped, left_out, unreached; without it everything is read) and ``delay`` (milliseconds).

>>> said = read(b"first,sectors,state\\n0,8,read\\n8,1,unreadable\\n", CSV, total=100)
>>> said.firsts.tolist(), said.sectors.tolist(), said.codes.tolist()
([0, 8], [8, 1], [5, 3])
>>> read(b'{"first": 0, "end": 8}\\n', NDJSON, total=100).sectors.tolist()
[8]
"""

from __future__ import annotations

import io
import json
from collections.abc import Sequence
from typing import Any

import numpy as np

from labcases.bench.coverage import STATES
from labcases.bench.files.paths import shown
from labcases.bench.spans import LARGEST, BadSpan
from labcases.bench.spantable import EXTENTS, How, Said, Unit, fold, read_table
from labcases.core.units import counted

CSV, NDJSON = "text/csv", "application/x-ndjson"
KINDS = (CSV, NDJSON)
COLUMNS = ("first", *EXTENTS, "state", "delay")
STATE_WORDS = {fold(state): state for state in STATES}


class BadSpanFile(ValueError):
    """These bytes are no table of spans; ``str(error)`` says why."""


def read(data: bytes, kind: str, *, total: int, sector_bytes: int = 512, unit: Unit = "sectors") -> Said:
    """The spans in the bytes of a file. Raises BadSpanFile, or BadSpan with the row (CSV counts its headers)."""
    columns = _csv(data) if kind == CSV else _ndjson(data)
    extents = [name for name in EXTENTS if name in columns]
    if "first" not in columns or len(extents) != 1:
        raise BadSpanFile("Spans have a column “first”, and one of “sectors”, “last” and “end”.")
    count = len(columns["first"])
    rows = np.arange(count, dtype=np.int64) + (2 if kind == CSV else 1)
    how = How(unit=unit, extent=extents[0], states=STATE_WORDS)
    return read_table(columns, how, total=total, sector_bytes=sector_bytes, rows=rows)


def _csv(data: bytes) -> dict[str, Any]:
    import pyarrow as pa
    from pyarrow import csv

    headers = data[: data.find(b"\n") if b"\n" in data else len(data)].decode("utf-8-sig", "replace").strip()
    names = [name.strip().strip('"').casefold() for name in headers.split(",")]
    if strange := [name for name in names if name not in COLUMNS]:
        raise BadSpanFile(f"There is no column “{strange[0][:40]}”; columns are {', '.join(COLUMNS)}.")
    if len(set(names)) != len(names):
        raise BadSpanFile("A column stands twice.")
    odd: list[Any] = []

    def refuse(row: Any) -> str:
        odd.append(row)
        return "error"

    reading = csv.ReadOptions(column_names=names, skip_rows=1)
    parsing = csv.ParseOptions(ignore_empty_lines=False, invalid_row_handler=refuse)
    texts = csv.ConvertOptions(column_types=dict.fromkeys(names, pa.string()), strings_can_be_null=False)
    try:
        table = csv.read_csv(io.BytesIO(data), reading, parsing, texts)
    except pa.ArrowException as error:
        raise _csv_error(data, names, odd, str(error)) from None
    return {name: table[name].combine_chunks() for name in names}


def _csv_error(data: bytes, names: Sequence[str], odd: Sequence[Any], said: str) -> ValueError:
    """What is wrong, with its row; asked for only when something is, since it goes line by line."""
    try:
        data.decode()
    except UnicodeDecodeError as wrong:
        return BadSpan("it holds bytes that are no UTF-8.", data.count(b"\n", 0, wrong.start) + 1)
    wide = len(names)
    for number, line in enumerate(data.splitlines()[1:] if odd else (), 2):
        if line.count(b",") != wide - 1:
            return BadSpan(f"it has {counted(line.count(b',') + 1, 'cell')}, where the headers have {wide}.", number)
    return BadSpanFile(f"This is no CSV of these columns: {said.splitlines()[0][:200]}")


def _ndjson(data: bytes) -> dict[str, Any]:
    import pyarrow as pa
    from pyarrow import json as arrow

    types = {name: pa.int64() for name in COLUMNS} | {"state": pa.string(), "delay": pa.float64()}
    options = arrow.ParseOptions(explicit_schema=pa.schema(types), unexpected_field_behavior="error")
    try:
        table = arrow.read_json(io.BytesIO(data), parse_options=options)
    except pa.ArrowException as error:
        raise _json_error(data, str(error)) from None
    told = {name: table[name] for name in COLUMNS if table[name].null_count < len(table)}
    return {name: column.cast(pa.string()).combine_chunks() for name, column in told.items()}


def _json_error(data: bytes, said: str) -> ValueError:
    """What is wrong, with its row; asked for only when something is, since it goes line by line."""
    for number, line in enumerate(data.split(b"\n"), 1):
        if line.strip() and (wrong := _wrong_with(line)):
            return BadSpan(wrong, number)
    return BadSpanFile(f"This is no JSON object a line: {said.splitlines()[0][:200]}")


def _wrong_with(line: bytes) -> str:
    try:
        told = json.loads(line, object_pairs_hook=list)
    except (ValueError, RecursionError):
        return "it is no JSON object."
    if not isinstance(told, list) or not all(isinstance(pair, tuple) for pair in told):
        return "it is no JSON object."
    names = [name for name, _ in told]
    if strange := [name for name in names if name not in COLUMNS or names.count(name) > 1]:
        why = "stands twice" if strange[0] in COLUMNS else "is not expected"
        return f"the member “{shown(strange[0].encode('utf-8', 'surrogatepass'), 40)}” {why}."
    for name, value in told:
        if value is not None and (wrong := _not_a(name, value)):
            return wrong
    return ""


def _not_a(name: str, value: Any) -> str:
    """Why a member cannot have this value; empty when it can."""
    if name == "state":
        return "" if isinstance(value, str) else "the state is no text."
    if isinstance(value, bool) or not isinstance(value, int | float if name == "delay" else int):
        return f"{name} is no {'number' if name == 'delay' else 'whole number'}: “{str(value)[:40]}”."
    return f"{name} does not fit into 64 bits." if abs(value) > LARGEST else ""
