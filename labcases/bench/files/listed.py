"""A list of files kept as one Parquet file, written batch by batch and read back column by column.

One row a file, in the order of the list: ``path`` (bytes as they came), ``folder`` (number of its folder), ``kind``
(place in KINDS), ``size`` (bytes, -1 not known), ``modified`` and ``created`` (microseconds UTC or null), ``said``
(code of its own check), ``firsts`` and ``lengths`` (extents on the whole medium, in sectors), ``row`` (as the
spreadsheet shows it). The folders are a second Parquet file: see ``tree``. No more than a batch is in memory, and the
folders.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from labcases.bench.files import cells
from labcases.bench.files.cells import How, Notes
from labcases.bench.files.paths import KINDS, kind_of, steps_of
from labcases.bench.files.source import Batch, ListError, Source
from labcases.bench.files.states import Extents
from labcases.bench.files.tree import Growing, Tree
from labcases.bench.spans import LARGEST

MOST_FILES = 20_000_000
MOST_FOLDERS = 2_000_000
MOST_PATH = 65_535  # bytes
GROUP = 1 << 16  # rows of a row group: what is read at least to show a line
FIELDS = ("path", "size", "modified", "created", "extents", "check")
SEPARATOR, LISTED = b"separator", b"list of files"


@dataclass(frozen=True)
class Made:
    """What a list turned out to hold."""

    rows: int
    folders: int
    bytes: int
    with_extents: int
    notes: Sequence[str]


@dataclass
class _Sums:
    rows: int = 0
    seen: int = 0
    bytes: int = 0
    placed: int = 0


@dataclass
class Maker:
    """Reads a list into two files. ``columns``: which column holds which of FIELDS; ``total`` sectors of the medium.

    ``beat`` is called with the rows done, now and then; whatever it raises stops the work.
    """

    columns: Mapping[str, int]
    how: How
    total: int | None
    beat: Callable[[int], None] = lambda rows: None
    notes: Notes = field(default_factory=Notes)
    _sums: _Sums = field(default_factory=_Sums)
    _growing: Growing = field(default_factory=Growing)
    _folders: dict[bytes, int] = field(default_factory=dict)

    def make(self, source: Source, files: Path, folders: Path) -> Made:
        """Write both files. Raises ListError; then what was written is worth nothing."""
        import pyarrow as pa
        import pyarrow.parquet as parquet

        chosen = [name for name in FIELDS if name in self.columns]
        schema = _schema(self.how.separator)
        with parquet.ParquetWriter(
            files, schema, compression="zstd", compression_level=3, use_dictionary=["kind", "said"]
        ) as out:
            for batch in source.batches([self.columns[name] for name in chosen]):
                for part in _parts(batch):
                    told = dict(zip(chosen, part.columns, strict=True))
                    out.write_table(pa.table(self._columns(told, part.row), schema=schema), row_group_size=GROUP)
                    self.beat(self._sums.rows)
        self._look_back()
        tree, rank = self._growing.grown()
        parquet.write_table(_of_tree(tree, rank), folders, compression="zstd")
        sums = self._sums
        return Made(sums.rows, tree.size, sums.bytes, sums.placed, list(self.notes.sentences()))

    def _columns(self, told: Mapping[str, Any], row: int) -> dict[str, Any]:
        import pyarrow as pa

        paths = cells.paths(told["path"])
        kept = self._with_a_path(paths, row)
        count, none = len(paths), np.full(len(paths), cells.NO_TIME)
        size = cells.sizes(told["size"], row, self.notes) if "size" in told else np.full(count, -1)
        said = cells.checks(told["check"], row, self.how, self.notes) if "check" in told else np.zeros(count, np.uint8)
        times = {n: cells.times(told[n], row, self.notes) if n in told else none for n in ("modified", "created")}
        where = self._extents(told, row, count)
        folder, kind = self._placed(paths, self.how.separator.encode())
        numbers = {"folder": folder, "kind": kind, "size": size, **times, "said": said}
        columns = {name: pa.array(column) for name, column in numbers.items()} | _lists(where)
        columns |= {"path": paths, "row": pa.array(np.arange(row, row + count))}
        self._sums.rows += int(kept.sum())
        self._sums.seen += count
        self._add_sizes(np.maximum(size, 0)[kept], row)
        self._sums.placed += int((where.sizes > 0)[kept].sum())
        self._must_not_be_too_many()
        return columns if kept.all() else {name: column.filter(pa.array(kept)) for name, column in columns.items()}

    def _with_a_path(self, paths: Any, row: int) -> Any:
        import pyarrow.compute as compute

        lengths = compute.binary_length(paths).to_numpy(zero_copy_only=False)
        if (long := lengths > MOST_PATH).any():
            at = int(np.argmax(long))
            raise ListError(f"the path has {lengths[at]:,} bytes; {MOST_PATH:,} are the most.", row + at)
        self.notes.add("path", lengths == 0, row)
        return lengths > 0

    def _extents(self, told: Mapping[str, Any], row: int, count: int) -> Extents:
        if "extents" not in told or self.total is None:
            none = np.zeros(0, np.int64)
            return Extents(none, none, np.zeros(count, np.int64))
        return cells.extents(told["extents"], row, self.how, self.total, self.notes)

    def _placed(self, paths: Any, separator: bytes) -> tuple[Any, Any]:
        """The number of each file's folder, and its kind: worked out once for each different folder and ending."""
        import pyarrow.compute as compute

        cut = compute.split_pattern(paths, separator, max_splits=1, reverse=True)
        inside = compute.greater(compute.list_value_length(cut), 1)
        names = compute.list_element(cut.filter(inside), 1) if compute.any(inside).as_py() else paths[:0]
        folders = np.zeros(len(paths), np.int32)
        within = inside.to_numpy(zero_copy_only=False)
        if len(names):
            packed = compute.list_element(cut.filter(inside), 0).dictionary_encode()
            known = np.array([self._folder(one, separator) for one in packed.dictionary.to_pylist()], np.int32)
            folders[within] = known[packed.indices.to_numpy()]
        ends = compute.extract_regex(paths, r"(?s)\.(?P<end>[^./\\]{1,10})$")
        endings = compute.fill_null(compute.struct_field(ends, 0), b"").dictionary_encode()
        kinds = np.array([kind_of(one) for one in endings.dictionary.to_pylist()] or [0], np.uint8)
        return folders, kinds[endings.indices.to_numpy()]

    def _folder(self, path: bytes, separator: bytes) -> int:
        found = self._folders.get(path)
        if found is None:
            found = self._folders[path] = self._growing.at(steps_of(path, separator))
        return found

    def _add_sizes(self, sizes: Any, row: int) -> None:
        self._sums.bytes += (int((sizes >> 32).sum()) << 32) + int((sizes & 0xFFFFFFFF).sum())  # no sum wraps around
        if self._sums.bytes > LARGEST:
            raise ListError("the sizes up to here add up to more than 64 bits hold.", row + int(np.argmax(sizes)))

    def _must_not_be_too_many(self) -> None:
        if self._sums.seen > MOST_FILES:
            raise ListError(f"The list has more than {MOST_FILES:,} files. Cut it into several.")
        if len(self._growing) > MOST_FOLDERS:
            raise ListError(f"The list has more than {MOST_FOLDERS:,} folders. Cut it into several.")

    def _look_back(self) -> None:
        if not self._sums.rows:
            raise ListError("No row of it has a path.")
        beyond = self.notes.many("beyond")
        if beyond > self._sums.placed and beyond > 1:
            raise ListError(
                f"Most extents lie beyond the end of the medium, the first in row {self.notes.first('beyond')}. "
                "Look whether they are counted in sectors or bytes, and from where."
            )


def _parts(batch: Batch) -> Iterator[Batch]:
    """No more than a row group at once."""
    for at in range(0, batch.size, GROUP):
        yield Batch(batch.row + at, [column[at : at + GROUP] for column in batch.columns])


def _schema(separator: str) -> Any:
    import pyarrow as pa

    moment, many = pa.timestamp("us"), pa.list_(pa.int64())
    fields = {
        "path": pa.binary(), "folder": pa.int32(), "kind": pa.uint8(), "size": pa.int64(), "modified": moment,
        "created": moment, "said": pa.uint8(), "firsts": many, "lengths": many, "row": pa.int64(),
    }  # fmt: skip
    return pa.schema(list(fields.items()), metadata={LISTED: b"1", SEPARATOR: separator.encode()})


def _lists(where: Extents) -> dict[str, Any]:
    import pyarrow as pa

    offsets = pa.array(np.concatenate((np.zeros(1, np.int64), np.cumsum(where.sizes))).astype(np.int32))
    columns = {"firsts": where.firsts, "lengths": where.sectors}
    return {name: pa.ListArray.from_arrays(offsets, pa.array(column)) for name, column in columns.items()}


def _of_tree(tree: Tree, rank: Any) -> Any:
    import pyarrow as pa

    columns = {"name": pa.array(tree.names, pa.binary()), "parent": tree.parents, "end": tree.ends, "rank": rank}
    return pa.table(columns)


class Listed:
    """A list that is kept; columns come as they are asked for."""

    def __init__(self, files: Path, folders: Path) -> None:
        import pyarrow.parquet as parquet

        self._file = parquet.ParquetFile(files)
        self._folders = folders
        about = self._file.schema_arrow.metadata or {}
        self.separator = about.get(SEPARATOR, b"/")
        self.rows: int = self._file.metadata.num_rows

    def __enter__(self) -> Listed:
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()

    def tree(self) -> tuple[Tree, Any]:
        """The folders, and the rank of each number in the column ``folder``."""
        import pyarrow.parquet as parquet

        table = parquet.read_table(self._folders)
        names, parents, ends = table["name"].to_pylist(), table["parent"].to_numpy(), table["end"].to_numpy()
        return Tree(names, parents, ends), table["rank"].to_numpy()

    def column(self, name: str) -> Any:
        """A column of numbers, whole."""
        return self._file.read(columns=[name])[name].to_numpy()

    def groups(self, *names: str) -> Iterator[Any]:
        """Record batches of these columns, all rows in order."""
        yield from self._file.iter_batches(batch_size=GROUP, columns=list(names), use_threads=False)

    def extents(self, group: Any) -> Extents:
        """The extents of a batch that has ``firsts`` and ``lengths``."""
        import pyarrow.compute as compute

        many = compute.list_value_length(group["firsts"]).to_numpy(zero_copy_only=False).astype(np.int64)
        return Extents(group["firsts"].flatten().to_numpy(), group["lengths"].flatten().to_numpy(), many)

    def lines(self, rows: Any) -> list[dict[str, Any]]:
        """Some rows, by their places, in the order asked; only the row groups they lie in are read."""
        found: dict[int, dict[str, Any]] = {}
        wanted = np.unique(np.asarray(rows, np.int64))
        begin = 0
        for number in range(self._file.num_row_groups):
            end = begin + self._file.metadata.row_group(number).num_rows
            here = wanted[(wanted >= begin) & (wanted < end)]
            if here.size:
                table = self._file.read_row_group(number).take(here - begin)
                found |= dict(zip(here.tolist(), table.to_pylist(), strict=True))
            begin = end
        return [found[int(row)] | {"at": int(row)} for row in rows]


def how_of(said: Mapping[str, Any]) -> How:
    """``How`` from what was kept of it."""
    return How(**{name: said[name] for name in How.__dataclass_fields__ if name in said})


def as_json(how: How) -> dict[str, Any]:
    return json.loads(json.dumps(how.__dict__))  # type: ignore[no-any-return]


__all__ = ["FIELDS", "KINDS", "Listed", "Made", "Maker", "as_json", "how_of"]
