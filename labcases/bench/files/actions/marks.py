"""What is said of the files of a list: which a wanted line asks for, which the customer takes, which were opened."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db.models import F
from django.utils import timezone

from labcases.bench.files.actions.lists import FileListRefused
from labcases.bench.files.models import FileList, FileSample, TakenFiles, WantedFiles
from labcases.bench.files.paths import KINDS, shown
from labcases.bench.files.queries import open_list
from labcases.bench.files.tree import Tree
from labcases.bench.reading.models import ReadingArea
from labcases.cases.models import Wanted
from labcases.core.refused import Refused
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right

MOST_SHOWN = 280


class NoSuchFile(Refused):
    """A file or folder that is not in the list."""


@recorded
def tie_wanted(
    *, found: FileList, wanted: Wanted, name: str, by: Actor, happened: datetime, folder: int | None = None,
    pattern: str = "", area: ReadingArea | None = None,
) -> WantedFiles:  # fmt: skip
    """Say which files a wanted line asks for: a folder by its rank, a pattern, or an area. Call ``derive`` after."""
    by.must(Right.EXAMINE)
    _must_stand(found)
    about = {"folder": folder, "pattern": pattern, "area": area, "name": name}
    made = WantedFiles.objects.create(list=found, wanted=wanted, **about, **Entry.stamp(by, happened))
    _changed(found, f"wanted line {wanted.number}, {name}, in list {found.number}", by, happened)
    return made


@recorded
def drop_tie(*, tie: WantedFiles, by: Actor, happened: datetime) -> WantedFiles:
    """Take a tie out again. Call ``derive`` after. Raises NoSuchFile the second time."""
    by.must(Right.EXAMINE)
    if not WantedFiles.objects.filter(pk=tie.pk, dropped=None).update(dropped=timezone.now()):
        raise NoSuchFile("This was taken out already.")
    said = f"wanted line {tie.wanted.number}, {tie.name}, in list {tie.list.number}: taken out"
    _changed(tie.list, said, by, happened)
    return tie


def _changed(found: FileList, said: str, by: Actor, happened: datetime) -> None:
    FileList.objects.filter(pk=found.pk).update(version=F("version") + 1)
    item = found.item
    record("files-tied", thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)


def take(
    *,
    found: FileList,
    taken: bool,
    by: Actor,
    happened: datetime,
    folders: Sequence[int] = (),
    rows: Sequence[int] = (),
) -> int:
    """Tick folders (by rank, with all that lies under them) and files (by place) as taken, or as left.

    What was said of anything under such a folder before is forgotten. Gives how many rows say it now.
    """
    by.must(Right.EXAMINE)
    with open_list(found) as listed:
        tree, rank = listed.tree()
        if any(not 0 <= folder < tree.size for folder in folders) or any(not 0 <= row < listed.rows for row in rows):
            raise NoSuchFile("One of these is not in the list.", mend="Reload the page and tick again.")
        files = [(line["at"], int(rank[line["folder"]]), int(line["size"])) for line in listed.lines(rows)]
    return _tick(found, tree, taken, sorted(set(folders)), files, by, happened)


@recorded
def _tick(
    found: FileList, tree: Tree, taken: bool, folders: Sequence[int], files: Sequence[tuple[int, int, int]], by: Actor,
    happened: datetime,
) -> int:  # fmt: skip
    _must_stand(found)
    known, stamp = TakenFiles.objects.filter(list=found), Entry.stamp(by, happened)
    for folder in folders:
        known.filter(folder__gte=folder, folder__lt=int(tree.ends[folder])).delete()
        TakenFiles.objects.create(list=found, folder=folder, taken=taken, **stamp)
    known.filter(row__in=[row for row, *_ in files]).delete()
    TakenFiles.objects.bulk_create(
        TakenFiles(list=found, folder=folder, row=row, size=size, taken=taken, **stamp) for row, folder, size in files
    )
    item, what = found.item, "taken" if taken else "left"
    said = f"{len(folders)} folders and {len(files)} files of list {found.number} {what}"
    record("files-taken", thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)
    return TakenFiles.objects.filter(list=found).count()


def note_sample(
    *, found: FileList, row: int, outcome: str, by: Actor, happened: datetime, words: str = ""
) -> FileSample:
    """Note that a file was opened, could only be looked at in its structure, or does not open."""
    by.must(Right.EXAMINE)
    with open_list(found) as listed:
        if not 0 <= row < listed.rows:
            raise NoSuchFile("There is no such file in the list.")
        line = listed.lines([row])[0]
    path = shown(line["path"], MOST_SHOWN)[:300]
    made = FileSample(
        list=found, row=row, path=path, kind=KINDS[line["kind"]], outcome=outcome, words=words,
        **Entry.stamp(by, happened),
    )  # fmt: skip
    return _noted(made, by, happened)


@recorded
def _noted(made: FileSample, by: Actor, happened: datetime) -> FileSample:
    _must_stand(made.list)
    made.save()
    item = made.list.item
    said = f"{made.path}: {made.get_outcome_display()}" + (f"; {made.words}" if made.words else "")
    record("sample-opened", thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)
    return made


def _must_stand(found: FileList) -> None:
    if not FileList.objects.standing().filter(pk=found.pk).exists():
        raise FileListRefused(f"List {found.number} does not stand any more.", mend="Use the one that took its place.")
