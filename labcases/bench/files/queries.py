"""What is shown of lists of files: a folder and what lies in it, totals, ticks, the answer to each wanted line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from labcases.bench.files.derived import matching
from labcases.bench.files.listed import Listed
from labcases.bench.files.models import FileList, FileSample, FileStates, TakenFiles, WantedFiles
from labcases.bench.files.paths import KINDS, shown
from labcases.bench.files.states import STATES, WORDS, Counts
from labcases.bench.files.tree import Tree
from labcases.cases.models import Item, Wanted
from labcases.core import vault

MARKS = {"unknown": "unknown", "whole": "whole", "partial": "partial", "not": "no"}
SAID = {1: "whole", 2: "damaged", 3: "lost"}
PAGE = 100
MOST_FOLDERS = 1_000  # shown of one folder; the rest is found by its name
MOST_NAME, MOST_SAMPLES = 120, 20


@dataclass(frozen=True)
class Folder:
    """A folder with all that lies under it."""

    rank: int
    name: str
    counts: Counts
    bytes: int
    taken: bool


@dataclass(frozen=True)
class File:
    """A file as a line."""

    at: int
    row: int
    name: str
    folder: str
    kind: str
    size: int | None
    state: str
    read: int
    sectors: int
    from_list: bool
    said: str
    modified: Any
    taken: bool

    @property
    def mark(self) -> str:
        return MARKS[self.state]

    @property
    def in_words(self) -> str:
        if self.state == "partial" and self.sectors and not self.from_list:
            return f"partial, {self.read:,} of {self.sectors:,} sectors"
        words = WORDS[self.state]
        return f"{words}, as the list says" if self.from_list and self.state != "unknown" else words


@dataclass(frozen=True)
class Sought:
    """What an address asks to see of a list."""

    folder: int = 0
    kind: str = ""
    state: str = ""
    q: str = ""

    @property
    def narrowed(self) -> bool:
        return bool(self.kind or self.state or self.q)


class Ticks:
    """What the customer takes of a list: what is nearest to a file counts for it."""

    def __init__(self, rows: Sequence[TakenFiles], tree: Tree) -> None:
        self.folders = np.zeros(tree.size, np.bool_)
        for row in rows:  # by rank: what is farther out comes first
            if row.row is None and row.folder < tree.size:
                self.folders[row.folder : int(tree.ends[row.folder])] = row.taken
        self._files = {row.row: row for row in rows if row.row is not None}

    def of(self, at: int, rank: int) -> bool:
        own = self._files.get(at)
        return own.taken if own else bool(self.folders[rank])

    def total(self, own: Any, own_bytes: Any) -> tuple[int, int]:
        """How many files are taken, and their bytes; ``own``: files directly in each folder."""
        files, size = int(own[self.folders].sum()), int(own_bytes[self.folders].sum())
        for row in self._files.values():
            change = int(row.taken) - int(self.folders[row.folder])
            files, size = files + change, size + change * max(row.size, 0)
        return files, size


@dataclass
class Browsed:
    """A list that is looked into. Parquet files are read when first asked for."""

    found: FileList
    listed: Listed
    sought: Sought
    ticks_said: Sequence[TakenFiles] = field(default_factory=list)

    @cached_property
    def _tree(self) -> tuple[Tree, Any]:
        return self.listed.tree()

    @property
    def tree(self) -> Tree:
        return self._tree[0]

    @cached_property
    def ticks(self) -> Ticks:
        return Ticks(self.ticks_said, self.tree)

    @property
    def current(self) -> FileStates:
        if self.found.current is None:
            raise FileNotFoundError("the states of this list are not worked out yet")
        return self.found.current

    @cached_property
    def states(self) -> Any:
        return _parquet(self.current.states)

    @cached_property
    def counts(self) -> Any:
        return _parquet(self.current.folders)

    @cached_property
    def _numbers(self) -> dict[str, Any]:
        return {name: self.counts[name].to_numpy() for name in (*STATES, "bytes", "own", "own_bytes")}

    @cached_property
    def chosen(self) -> Any:
        """The places of the files that are asked for: of the folder itself, or of all under it when narrowed."""
        rank = self._tree[1][self.listed.column("folder")]
        here = self.sought.folder
        if not self.sought.narrowed:
            return np.flatnonzero(rank == here)
        mask = (rank >= here) & (rank < int(self.tree.ends[here]))
        if self.sought.kind:
            mask &= self.listed.column("kind") == KINDS.index(self.sought.kind)
        if self.sought.state:
            mask &= self.states["state"].to_numpy() == STATES.index(self.sought.state)
        return np.flatnonzero(self._like(mask) if self.sought.q else mask)

    def _like(self, mask: Any) -> Any:
        """Of these files, those whose paths are like what was typed; row groups without one are not searched."""
        begin = 0
        for group in self.listed.groups("path"):
            end = begin + len(group)
            if mask[begin:end].any():
                mask[begin:end] &= matching(group["path"], self.sought.q, self.listed.separator)
            begin = end
        return mask

    def folders(self) -> list[Folder]:
        """The folders in this one, with counts of all that lies under each."""
        if self.sought.narrowed:
            return []
        return [self._folder(int(rank)) for rank in self.tree.within(self.sought.folder)[:MOST_FOLDERS]]

    def _folder(self, rank: int) -> Folder:
        files = tuple(int(self._numbers[state][rank]) for state in STATES)
        counts, size = Counts(files), int(self._numbers["bytes"][rank])  # type: ignore[arg-type] # four of them
        name = shown(self.tree.names[rank], MOST_NAME)
        return Folder(rank, name, counts, size, bool(self.ticks.folders[rank]))

    def here(self) -> Folder:
        return self._folder(self.sought.folder)

    def way(self) -> list[tuple[int, str]]:
        """The folders on the way here: the outermost ones and the nearest."""
        way = [(rank, shown(self.tree.names[rank], 60)) for rank in self.tree.way(self.sought.folder)[1:]]
        return way if len(way) <= 12 else [*way[:3], (-1, "…"), *way[-8:]]

    def files(self, places: Any) -> list[File]:
        """Some files as lines."""
        places = np.asarray(places, np.int64)
        told = self.states.take(places).to_pylist() if places.size else []
        lines = self.listed.lines(places)
        return [self._file(line, said) for line, said in zip(lines, told, strict=True)]

    def _file(self, line: Mapping[str, Any], said: Mapping[str, Any]) -> File:
        rank = int(self._tree[1][line["folder"]])
        folder, _, name = line["path"].rpartition(self.listed.separator)
        return File(
            at=line["at"], row=line["row"], name=shown(name, MOST_NAME), folder=shown(folder, MOST_NAME),
            kind=KINDS[line["kind"]], size=None if line["size"] < 0 else line["size"], state=STATES[said["state"]],
            read=said["read"], sectors=said["sectors"], from_list=said["from_list"], said=SAID.get(line["said"], ""),
            modified=line["modified"], taken=self.ticks.of(line["at"], rank),
        )  # fmt: skip

    def exported(self, step: int = 5_000) -> Iterator[list[Any]]:
        """The chosen files as rows of a table, some thousand at a time."""
        for begin in range(0, self.chosen.size, step):
            places = self.chosen[begin : begin + step]
            for file, line in zip(self.files(places), self.listed.lines(places), strict=True):
                taken = "yes" if file.taken else ""
                told = [WORDS[file.state], file.read, file.sectors, "yes" if file.from_list else "", file.said, taken]
                yield [file.row, shown(line["path"]), file.kind, file.size, file.modified, *told]

    def taken(self) -> tuple[int, int]:
        return self.ticks.total(self._numbers["own"], self._numbers["own_bytes"])


EXPORT_HEAD = [
    "row", "path", "kind", "bytes", "modified (UTC)", "state", "sectors read", "of sectors", "as the list says",
    "own check", "taken",
]  # fmt: skip


@contextmanager
def open_list(found: FileList) -> Iterator[Listed]:
    """The files of a list that was kept."""
    with Listed(vault.path(found.listed), vault.path(found.tree)) as listed:
        yield listed


def _parquet(digest: str) -> Any:
    import pyarrow.parquet as parquet

    return parquet.read_table(vault.path(digest))


def ticks_of(found: FileList) -> list[TakenFiles]:
    return list(TakenFiles.objects.filter(list=found).order_by("folder", "pk"))


def browsed(found: FileList, listed: Listed, sought: Sought) -> Browsed:
    return Browsed(found, listed, sought, ticks_of(found))


# --- totals of an item, of a case


@dataclass(frozen=True)
class Answer:
    """What the lists answer to a line of the wanted list."""

    wanted: Wanted
    counts: Counts
    ties: Sequence[WantedFiles]

    @property
    def state(self) -> str:
        return self.counts.answer

    @property
    def mark(self) -> str:
        return MARKS[self.state]

    @property
    def words(self) -> str:
        return self.counts.in_words if self.counts.total else ""


@dataclass(frozen=True)
class Found:
    """What all standing lists of an item say together."""

    item: Item
    lists: Sequence[FileList]
    kinds: Mapping[str, Counts]
    answers: Sequence[Answer]
    samples: Sequence[FileSample]
    from_list: int

    @property
    def total(self) -> Counts:
        return sum(self.kinds.values(), Counts())

    @property
    def known(self) -> bool:
        return any(one.current for one in self.lists)

    @property
    def sample_words(self) -> str:
        """Which samples were opened, and by whom, in lines."""
        lines = [f"{one.path}: {one.get_outcome_display()} ({one.by or 'Labcases'})" for one in self.samples]
        more = len(lines) - MOST_SAMPLES
        return "\n".join(lines[:MOST_SAMPLES] + ([f"and {more} more"] if more > 0 else []))


def found_of(items: Sequence[Item]) -> dict[int, Found]:
    """What the lists of these items say, for those that have one: as many queries for one as for many."""
    keys = [item.pk for item in items]
    rows = FileList.objects.standing().filter(item__in=keys)
    lists = _grouped(rows.select_related("current", "item__thing"), "item_id")
    if not lists:
        return {}
    ties = _grouped(WantedFiles.objects.filter(list__item__in=keys, dropped=None), "list_id")
    samples = FileSample.objects.filter(list__item__in=keys, list__withdrawal=None).select_related("by", "list")
    opened: dict[int, list[Any]] = {}
    for sample in samples:
        opened.setdefault(sample.list.item_id, []).append(sample)
    wanted = _grouped(Wanted.objects.filter(case__in={item.case_id for item in items}), "case_id")
    return {
        item.pk: _found(item, lists[item.pk], ties, opened.get(item.pk, []), wanted.get(item.case_id, []))
        for item in items
        if item.pk in lists
    }


def _found(item: Item, lists: Sequence[FileList], ties: Any, samples: Any, wanted: Sequence[Wanted]) -> Found:
    kinds: dict[str, Counts] = {}
    by_wanted: dict[int, Counts] = {}
    for current in [one.current for one in lists if one.current]:
        for kind, counts in current.kinds.items():
            kinds[kind] = kinds.get(kind, Counts()) + counts
        for pk, counts in current.wanted.items():
            by_wanted[pk] = by_wanted.get(pk, Counts()) + counts
    tied = [tie for one in lists for tie in ties.get(one.pk, [])]
    answers = [
        Answer(line, by_wanted.get(line.pk, Counts()), [tie for tie in tied if tie.wanted_id == line.pk])
        for line in wanted
    ]
    ordered = {kind: kinds[kind] for kind in KINDS if kind in kinds}
    alone = sum(one.current.from_list for one in lists if one.current)
    return Found(item, lists, ordered, answers, samples, alone)


def _grouped(rows: Any, by: str) -> dict[int, list[Any]]:
    grouped: dict[int, list[Any]] = {}
    for row in rows:
        grouped.setdefault(getattr(row, by), []).append(row)
    return grouped


def result_from(item: Item) -> dict[str, Any]:
    """What the lists would answer in the form of a result; empty without one."""
    said = found_of([item]).get(item.pk)
    if said is None or not said.known:
        return {}
    total = said.total
    _, whole, partial, _ = total.files
    about: dict[str, Any] = {"files": whole + partial, "bytes": total.bytes, "samples": said.sample_words}
    missing = Counts((total.files[0], 0, partial, total.files[3]))
    if missing.total:
        about["not_recovered"] = f"Of the files in the list: {total.in_words}."
    for answer in said.answers:
        if answer.counts.total:
            about |= {f"wanted-{answer.wanted.pk}": answer.state, f"words-{answer.wanted.pk}": answer.words}
    return about


def sampled(keys: Sequence[int]) -> set[int]:
    """The items of which a sample of every kind of wanted file was opened, or looked at as far as can be here."""
    current = FileStates.objects.filter(
        pk__in=FileList.objects.standing().filter(item__in=keys).exclude(current=None).values("current")
    )
    needed: dict[int, set[str]] = {}
    for item, kinds in current.values_list("list__item", "kinds_wanted"):
        needed.setdefault(item, set()).update(kind for some in kinds.values() for kind in some)
    looked = FileSample.objects.filter(list__item__in=keys, list__withdrawal=None)
    seen: dict[int, set[str]] = {}
    for item, kind in looked.values_list("list__item", "kind"):
        seen.setdefault(item, set()).add(kind)
    return {item for item, kinds in needed.items() if kinds and kinds <= seen.get(item, set())}
