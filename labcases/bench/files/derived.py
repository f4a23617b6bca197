"""What follows from a list and a coverage: the state of each file, counts by folder, by kind, by wanted line.

The states are kept as a Parquet file of one row a file (``state``, ``read``, ``sectors``, ``from_list``), the folders
as one of one row a folder (files in each state and bytes, each with all that lies under it). Both can be thrown away
and worked out again.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from labcases.bench.coverage import Coverage
from labcases.bench.files.listed import Listed
from labcases.bench.files.paths import KINDS, like
from labcases.bench.files.states import STATES, Counts, count, judge
from labcases.bench.files.tree import Tree
from labcases.bench.spans import union


@dataclass(frozen=True)
class Tie:
    """Which files a wanted line asks for: those under a folder (by rank), like a pattern, or on an area's sectors."""

    wanted: int
    folder: int | None = None
    pattern: str = ""
    area: tuple[Any, Any] | None = None  # first sectors, lengths


@dataclass(frozen=True)
class Derived:
    """Counts by kind; counts by wanted line, and the kinds among them; how many states the list alone said."""

    by_kind: Mapping[str, Counts]
    by_wanted: Mapping[int, Counts]
    kinds_wanted: Mapping[int, Sequence[str]]
    from_list: int


def derive(listed: Listed, coverage: Coverage | None, ties: Sequence[Tie], states: Path, folders: Path) -> Derived:
    """Work it out and write both files; one row group is in memory at a time, and the folders."""
    import pyarrow as pa
    import pyarrow.parquet as parquet

    tree, rank = listed.tree()
    sums = _Sums(tree.size)
    wanted = [_Chosen(tie, tree) for tie in ties]
    schema = pa.schema({"state": pa.uint8(), "read": pa.int64(), "sectors": pa.int64(), "from_list": pa.bool_()})
    columns = ["folder", "kind", "size", "said", "firsts", "lengths"]
    columns += ["path"] if any(tie.pattern for tie in ties) else []
    with parquet.ParquetWriter(states, schema, compression="zstd") as out:
        for group in listed.groups(*columns):
            where = listed.extents(group)
            said, size, kind = (group[name].to_numpy(zero_copy_only=False) for name in ("said", "size", "kind"))
            judged = judge(coverage, where, said)
            folder = rank[group["folder"].to_numpy(zero_copy_only=False)]
            sums.add(folder, kind, size, said, judged)
            sums.add_wanted([(one.tie.wanted, one.of(group, folder, where, listed.separator)) for one in wanted],
                            judged.states, said, size, kind)  # fmt: skip
            told = (judged.states, judged.read, judged.sectors, judged.from_list)
            out.write_table(pa.table(dict(zip(schema.names, map(pa.array, told), strict=True)), schema=schema))
    parquet.write_table(pa.table(sums.of_folders(tree)), folders, compression="zstd")
    return sums.derived()


class _Sums:
    def __init__(self, folders: int) -> None:
        self.files = np.zeros((len(STATES), folders), np.int64)
        self.bytes = np.zeros(folders, np.int64)
        self.kinds = [Counts() for _ in KINDS]
        self.wanted: dict[int, Counts] = {}
        self.kinds_wanted: dict[int, set[int]] = {}
        self.from_list = 0

    def add(self, folder: Any, kind: Any, size: Any, said: Any, judged: Any) -> None:
        for code in range(len(STATES)):
            self.files[code] += np.bincount(folder[judged.states == code], minlength=self.bytes.size)
        np.add.at(self.bytes, folder, np.maximum(size, 0))
        for code in np.unique(kind):
            self.kinds[code] += count(judged.states, said, size, kind == code)
        self.from_list += int((judged.from_list & (judged.states > 0)).sum())

    def add_wanted(self, chosen: Sequence[tuple[int, Any]], states: Any, said: Any, size: Any, kind: Any) -> None:
        """A file that a line asks for twice counts once."""
        masks: dict[int, Any] = {}
        for wanted, mask in chosen:
            masks[wanted] = masks[wanted] | mask if wanted in masks else mask
        for wanted, mask in masks.items():
            self.wanted[wanted] = self.wanted.get(wanted, Counts()) + count(states, said, size, mask)
            self.kinds_wanted.setdefault(wanted, set()).update(np.unique(kind[mask]).tolist())

    def of_folders(self, tree: Tree) -> dict[str, Any]:
        columns = {state: tree.under(self.files[code]) for code, state in enumerate(STATES)}
        own = self.files.sum(axis=0)
        return columns | {"bytes": tree.under(self.bytes), "own": own, "own_bytes": self.bytes}

    def derived(self) -> Derived:
        kinds = {KINDS[code]: counts for code, counts in enumerate(self.kinds) if counts.total}
        named = {pk: [KINDS[code] for code in sorted(codes)] for pk, codes in self.kinds_wanted.items()}
        return Derived(kinds, self.wanted, named, self.from_list)


class _Chosen:
    """Which files of a batch a tie means."""

    def __init__(self, tie: Tie, tree: Tree) -> None:
        self.tie = tie
        self._run = (tie.folder, int(tree.ends[tie.folder])) if tie.folder is not None else (0, 0)
        if tie.area is not None:
            self._area = union(tie.area[0], tie.area[0] + tie.area[1])

    def of(self, group: Any, folder: Any, where: Any, separator: bytes) -> Any:
        if self.tie.folder is not None:
            return (folder >= self._run[0]) & (folder < self._run[1])
        if self.tie.pattern:
            return matching(group["path"], self.tie.pattern, separator)
        return self._touching(where, folder.size)

    def _touching(self, where: Any, files: int) -> Any:
        firsts, ends = self._area
        inside = np.searchsorted(firsts, where.firsts + where.sectors) > np.searchsorted(ends, where.firsts, "right")
        owner = np.repeat(np.arange(files), where.sizes)
        return np.bincount(owner[inside & (where.sectors > 0)], minlength=files) > 0


def matching(paths: Any, pattern: str, separator: bytes = b"/") -> Any:
    """Which paths are like this, whatever the case of their letters; see ``paths.like``."""
    import pyarrow as pa
    import pyarrow.compute as compute

    if separator != b"/":
        paths = compute.replace_substring(paths, separator, b"/")
    try:
        texts, words = paths.cast(pa.string()), like(pattern)
    except pa.ArrowException:  # bytes that are no letters: then only the case of A to Z does not matter
        texts, words = paths, like(pattern)
    try:
        return compute.match_substring_regex(texts, f"(?s){words}", ignore_case=True).to_numpy(zero_copy_only=False)
    except pa.ArrowException:
        found = re.compile(words.encode("utf-8", "replace"), re.DOTALL | re.IGNORECASE)
        return np.array([bool(found.search(path)) for path in paths.cast(pa.binary()).to_pylist()], np.bool_)
