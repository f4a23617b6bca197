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
from typing import Any

import numpy as np

from labcases.bench.coverage import STATES
from labcases.bench.spantable import EXTENTS, How, Said, Unit, fold, read_table

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
    reading = csv.ReadOptions(column_names=names, skip_rows=1)
    parsing = csv.ParseOptions(ignore_empty_lines=False)
    texts = csv.ConvertOptions(column_types=dict.fromkeys(names, pa.string()), strings_can_be_null=False)
    try:
        table = csv.read_csv(io.BytesIO(data), reading, parsing, texts)
    except pa.ArrowException as error:
        raise BadSpanFile(f"This is no CSV of these columns: {str(error).splitlines()[0][:200]}") from None
    return {name: table[name].combine_chunks() for name in names}


def _ndjson(data: bytes) -> dict[str, Any]:
    import pyarrow as pa
    from pyarrow import json

    types = {name: pa.int64() for name in COLUMNS} | {"state": pa.string(), "delay": pa.float64()}
    options = json.ParseOptions(explicit_schema=pa.schema(types), unexpected_field_behavior="error")
    try:
        table = json.read_json(io.BytesIO(data), parse_options=options)
    except pa.ArrowException as error:
        raise BadSpanFile(f"This is no JSON object a line: {str(error).splitlines()[0][:200]}") from None
    told = {name: table[name] for name in COLUMNS if table[name].null_count < len(table)}
    return {name: column.cast(pa.string()).combine_chunks() for name, column in told.items()}
