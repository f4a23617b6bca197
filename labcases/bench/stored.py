"""Coverage and spans as bytes to keep: Parquet files (an open format), small, and the same bytes for the same content.

A coverage is one row a run, in order of place: its number of sectors and the code of its state. Where a run begins is
the sum of the runs before it, so lengths are all that is kept. Lengths are small numbers with much in common byte by
byte: split into their eight byte columns and packed with Zstandard they take about what xz makes of them.

>>> from labcases.bench.coverage import Coverage
>>> disk = Coverage.from_rows(1_000, [(0, 600, "read"), (700, 1, "unreadable")])
>>> unpack(pack(disk)) == disk
True

Spans are one row a span, as they were handed over: first sector, number of sectors, and further columns of their own
(the code of the state, the delay in milliseconds, the number of a head).
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any

import numpy as np

from labcases.bench.coverage import STATES, Coverage
from labcases.bench.spans import BadSpan

TOTAL, NAMES = b"total_sectors", b"states"
PAGE = 1 << 27  # bytes before packing: one page a column, so that the packer sees all of it
LEVEL, QUICK = 19, 3
SPLIT = "BYTE_STREAM_SPLIT"


class NotStored(BadSpan):
    """These bytes are no file that this module made."""


def pack(coverage: Coverage) -> bytes:
    """A coverage as a Parquet file."""
    import pyarrow as pa

    lengths = np.diff(coverage.starts, append=coverage.total_sectors)
    about = {TOTAL: str(coverage.total_sectors).encode(), NAMES: ",".join(STATES).encode()}
    table = pa.table({"sectors": lengths, "state": coverage.codes}).replace_schema_metadata(about)
    return _written(table, LEVEL)


def unpack(data: bytes) -> Coverage:
    """The coverage of such a file. Raises NotStored, or BadSpan when its runs are no runs of a medium."""
    table = _read(data)
    about = table.schema.metadata or {}
    if about.get(NAMES, b"").decode() != ",".join(STATES) or not about.get(TOTAL, b"").isdigit():
        raise NotStored("These bytes are no stored coverage.")
    lengths = table["sectors"].to_numpy()
    starts = np.concatenate((np.zeros(min(1, lengths.size), np.int64), np.cumsum(lengths)[:-1]))
    return Coverage.from_runs(int(about[TOTAL]), starts, table["state"].to_numpy())


def pack_columns(columns: Mapping[str, Any]) -> bytes:
    """Columns of equal length as a Parquet file: numpy arrays of numbers, lists of words; order and doubles stay."""
    import pyarrow as pa

    arrays = {name: column if isinstance(column, np.ndarray) else pa.array(column, pa.string())
              for name, column in columns.items()}  # fmt: skip
    return _written(pa.table(arrays), QUICK)


def unpack_columns(data: bytes) -> dict[str, Any]:
    """The columns by their names, as numpy arrays."""
    table = _read(data)
    return {name: table[name].to_numpy() for name in table.column_names}  # words become an array of objects


def _written(table: Any, level: int) -> bytes:
    import pyarrow.parquet as parquet

    out = io.BytesIO()
    words = [name for name in table.column_names if table[name].type == "string"]
    numbers = dict.fromkeys((name for name in table.column_names if name not in words), SPLIT)
    parquet.write_table(
        table, out, compression="zstd", compression_level=level, use_dictionary=words or False,
        write_statistics=False, column_encoding=numbers or None, data_page_size=PAGE, row_group_size=1 << 24,
    )  # fmt: skip
    return out.getvalue()


def _read(data: bytes) -> Any:
    import pyarrow as pa
    import pyarrow.parquet as parquet

    try:
        return parquet.read_table(io.BytesIO(data))
    except (pa.ArrowException, OSError) as broken:
        raise NotStored(f"These bytes are no stored table: {broken}") from broken
