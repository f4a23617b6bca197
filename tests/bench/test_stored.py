"""Coverage as bytes to keep: whole again, small, and never guessed from other bytes."""

from __future__ import annotations

import io

import numpy as np
import pyarrow as pa
import pyarrow.parquet as parquet
import pytest

from labcases.bench.coverage import STATES, Coverage
from labcases.bench.spans import BadSpan
from labcases.bench.stored import NotStored, pack, pack_columns, unpack, unpack_columns


@pytest.mark.parametrize("total", [0, 1, 1_000, 2**62])
def test_a_coverage_comes_back_as_it_was(total: int) -> None:
    chance = np.random.default_rng(total % 97)
    firsts = chance.integers(0, max(total, 1), 50) if total else np.zeros(0, np.int64)
    sectors = np.minimum(chance.integers(0, max(total // 20, 2), firsts.size), total - firsts)
    states = np.array(STATES)[chance.integers(0, 6, firsts.size)]
    disk = Coverage.from_rows(total, list(zip(firsts.tolist(), sectors.tolist(), states.tolist(), strict=True)))
    assert unpack(pack(disk)) == disk


def test_the_same_coverage_gives_the_same_bytes() -> None:
    one = Coverage.from_rows(1_000, [(0, 10, "read"), (10, 10, "read")])
    other = Coverage.from_rows(1_000, [(0, 20, "read")])
    assert pack(one) == pack(other)


def test_the_file_says_itself_what_it_holds() -> None:
    """Read with the format's own library alone."""
    table = parquet.read_table(io.BytesIO(pack(Coverage.from_rows(100, [(10, 5, "skipped")]))))
    assert table.to_pydict() == {"sectors": [10, 5, 85], "state": [0, 2, 0]}
    assert table.schema.metadata[b"states"].decode().split(",") == list(STATES)


def made(**columns: object) -> bytes:
    out = io.BytesIO()
    parquet.write_table(pa.table(columns), out)
    return out.getvalue()


@pytest.mark.parametrize("data", [b"", b"PAR1", b"nonsense" * 99, made(a=[1])], ids=["none", "mark", "noise", "other"])
def test_other_bytes_are_refused(data: bytes) -> None:
    with pytest.raises(NotStored):
        unpack(data)


@pytest.mark.parametrize(("sectors", "state"), [([5, 5], [0, 9]), ([5, 6], [0, 1]), ([0, 10], [0, 1])])
def test_runs_that_are_no_runs_are_refused(sectors: list[int], state: list[int]) -> None:
    about = {b"total_sectors": b"10", b"states": ",".join(STATES).encode()}
    table = pa.table({"sectors": sectors, "state": state}).replace_schema_metadata(about)
    out = io.BytesIO()
    parquet.write_table(table, out)
    if sectors == [5, 6]:  # adds up to more than the medium: what is beyond its end is not there
        assert unpack(out.getvalue()).total_sectors == 10
    else:
        with pytest.raises(BadSpan):
            unpack(out.getvalue())


def test_columns_keep_order_doubles_and_words() -> None:
    back = unpack_columns(
        pack_columns({"first": np.array([9, 9, 1]), "delay": np.array([0.5, 1, 2]), "why": ["a", "ж", ""]})
    )
    assert (back["first"].tolist(), back["delay"].tolist(), back["why"].tolist()) == (
        [9, 9, 1],
        [0.5, 1, 2],
        ["a", "ж", ""],
    )


def test_columns_without_a_row_come_back_empty() -> None:
    back = unpack_columns(pack_columns({"first": np.zeros(0, np.int64), "why": []}))
    assert (back["first"].tolist(), back["why"].tolist()) == ([], [])
