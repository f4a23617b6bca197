"""Lists of files: received, read outside any transaction, kept or refused as a whole, taken back as a whole.

A list is a row first. Whoever is free claims it (a web process for a small one, the worker for the rest), reads it from
the vault into the vault, and shows it with one short transaction. A reader that was killed is noticed by its silence,
and its list is read again from the beginning: nothing of it was shown.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Mapping
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from django.db.models import Max, Q
from django.utils import timezone

from labcases.bench.files.derived import Derived, Tie
from labcases.bench.files.derived import derive as derived_files
from labcases.bench.files.listed import Made, Maker, how_of
from labcases.bench.files.models import FileList, FileListWithdrawal, FileStates, WantedFiles
from labcases.bench.files.queries import open_list
from labcases.bench.files.source import ListError, Source
from labcases.bench.reading.models import ItemCoverage
from labcases.bench.reading.queries import coverage_of
from labcases.bench.reading.queries.read import spans_of
from labcases.cases.models import Item
from labcases.cases.readings.actions import must_be_the_right_item
from labcases.core import vault
from labcases.core.actions import writing
from labcases.core.refused import Refused
from labcases.core.text import one_line
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right, Role

SILENT = timedelta(minutes=5)  # a reader that was not heard of for so long was killed
BEAT = 2.0  # seconds between two signs of life
TIDIED_AFTER = timedelta(hours=1)
State = FileList.State
log = logging.getLogger(__name__)


class FileListRefused(Refused):
    """A list that stands already, or that cannot be taken back."""


class _Overtaken(Exception):
    """Somebody else reads this list now."""


@recorded
def receive(
    *, item: Item, file: str, size: int, name: str, how: Mapping[str, Any], by: Actor, happened: datetime,
    source: str = FileList.Source.TABLE,
) -> FileList:  # fmt: skip
    """Take a list in; its bytes lie in the vault under ``file``. Call ``read_list`` after the transaction.

    ``how`` holds "columns" (field to column), "letters" and what ``cells.How`` takes. Raises NotAllowed, WrongItem,
    FileListRefused for bytes that stand already.
    """
    by.must(Right.EXAMINE)
    must_be_the_right_item(item)
    lists = FileList.objects.filter(item=item)
    if same := lists.filter(file=file, withdrawal=None).exclude(state=State.REFUSED).first():
        raise FileListRefused(
            f"These very bytes are there already as list {same.number}.", mend="Withdraw that one to read it anew."
        )
    number = (lists.aggregate(last=Max("number"))["last"] or 0) + 1
    made = FileList.objects.create(
        item=item, number=number, name=name, file=file, size=size, how=dict(how), source=source,
        **Entry.stamp(by, happened),
    )  # fmt: skip
    said = f"list {number} received, sha-256 {file}"
    record("file-list-received", thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)
    return made


def read_list(pk: int) -> bool:
    """Read a list that waits, or whose reader fell silent; whether this call was the one that did."""
    now = timezone.now()
    free = Q(state=State.WAITING) | Q(state=State.READING, beat__lt=now - SILENT)
    with writing():
        if not FileList.objects.filter(free, pk=pk).update(state=State.READING, beat=now, done=0):
            return False
    found = FileList.objects.select_related("item__thing", "item__case__thing", "by").get(pk=pk)
    try:
        with vault.incoming() as files, vault.incoming() as folders:
            made = _made(found, now, files, folders)
            listed, tree = vault.put_file(files), vault.put_file(folders)
        _show(found, made, listed, tree)
    except ListError as wrong:
        with writing():
            mine = FileList.objects.filter(pk=pk, state=State.READING)
            mine.update(state=State.REFUSED, trouble=f"{one_line(str(wrong))} Nothing of it was kept.", beat=None)
        return True
    except _Overtaken:
        return False
    derive(found)
    return True


def _made(found: FileList, begun: datetime, files: Path, folders: Path) -> Made:
    """Read it. What no rule foresaw in its content refuses it too, or the worker would try it again for ever."""
    try:
        return _maker(found, begun).make(_source(found), files, folders)
    except ListError:
        raise
    except (ArithmeticError, LookupError, TypeError, ValueError, NotImplementedError) as unforeseen:
        log.exception("List %s of %s cannot be read", found.number, found.item)
        raise ListError("It cannot be read, and nobody foresaw why; the reason is in the log.") from unforeseen


def _source(found: FileList) -> Source:
    return Source(vault.path(found.file), found.name, found.how.get("letters") or None)


def _maker(found: FileList, begun: datetime) -> Maker:
    told, last = time.monotonic(), begun

    def beat(rows: int) -> None:
        nonlocal told, last
        if time.monotonic() - told < BEAT:
            return
        now = timezone.now()
        with writing():
            mine = FileList.objects.filter(pk=found.pk, state=State.READING, beat=last)
            if not mine.update(beat=now, done=rows):
                raise _Overtaken
        told, last = time.monotonic(), now

    return Maker(found.how["columns"], how_of(found.how), found.item.sectors or None, beat)


@recorded
def _show(found: FileList, made: Made, listed: str, tree: str) -> None:
    """What was read stands from now on; nothing when another reader was faster."""
    about = {"rows": made.rows, "folders": made.folders, "bytes": made.bytes, "placed": made.with_extents}
    mine = FileList.objects.filter(pk=found.pk, state=State.READING)
    if not mine.update(
        state=State.KEPT, listed=listed, tree=tree, notes=list(made.notes), beat=None, done=made.rows, **about
    ):
        raise _Overtaken
    by, item = Actor(found.by, Role(found.role)), found.item
    said = f"list {found.number}, {made.rows:,} files in {made.folders:,} folders, sha-256 {found.file}"
    record("file-list-kept", thing=item.thing, by=by, happened=found.happened, because=said, case=item.case.code)


def read_waiting() -> int:
    """The worker's job: lists that wait, and those whose reader fell silent."""
    silent = Q(state=State.READING, beat__lt=timezone.now() - SILENT)
    waiting = list(FileList.objects.filter(Q(state=State.WAITING) | silent).values_list("pk", flat=True)[:5])
    return sum(read_list(pk) for pk in waiting)


@recorded
def withdraw_list(*, found: FileList, because: str, by: Actor, happened: datetime) -> FileList:
    """Take a list back as a whole; its bytes stay. Raises FileListRefused when it does not stand."""
    by.must(Right.EXAMINE)
    if not FileList.objects.standing().filter(pk=found.pk).exists():
        raise FileListRefused(f"List {found.number} does not stand: it was withdrawn, or never kept.")
    FileListWithdrawal.objects.create(list=found, because=because, **Entry.stamp(by, happened))
    said, item = f"list {found.number}; {because}", found.item
    record("file-list-withdrawn", thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)
    return found


# --- what follows from it and the coverage


def derive(found: FileList, *, anew: bool = False) -> FileStates | None:
    """Work out the states of a list's files when they lag behind, or ``anew``; safe to run twice and by two at once."""
    found = FileList.objects.select_related("item", "current").get(pk=found.pk)
    if found.state != State.KEPT:
        return None
    coverage = ItemCoverage.objects.select_related("derivation").filter(item=found.item_id).first()
    derivation = coverage.derivation if coverage else None
    digest, current = derivation.digest if derivation else "", found.current
    if current and not anew and (current.version, current.coverage) == (found.version, digest):
        return current
    with vault.incoming() as states, vault.incoming() as folders, open_list(found) as listed:
        said = derived_files(listed, coverage_of(derivation), _ties(found), states, folders)
        kept = {"states": vault.put_file(states), "folders": vault.put_file(folders)}
    with writing():
        made = FileStates.objects.create(list=found, version=found.version, coverage=digest, **kept, **_numbers(said))
        FileList.objects.filter(pk=found.pk, version=found.version).update(current=made)
    return made


def _ties(found: FileList) -> list[Tie]:
    rows = WantedFiles.objects.filter(list=found, dropped=None).select_related("area")
    return [
        Tie(row.wanted_id, row.folder, row.pattern, tuple(spans_of(row.area)) if row.area else None) for row in rows
    ]


def _numbers(said: Derived) -> dict[str, Any]:
    return {
        "by_kind": {kind: counts.as_list() for kind, counts in said.by_kind.items()},
        "by_wanted": {str(pk): counts.as_list() for pk, counts in said.by_wanted.items()},
        "kinds_wanted": {str(pk): list(kinds) for pk, kinds in said.kinds_wanted.items()},
        "from_list": said.from_list,
    }


def derive_waiting() -> int:
    """The worker's job: lists whose states lag behind the coverage of their item."""
    behind = list(FileList.objects.behind()[:10])
    return sum(1 for found in behind if derive(found))


def tidy() -> int:
    """The worker's job: states that were overtaken; they can be worked out again."""
    held = FileList.objects.exclude(current=None).values("current")
    old = FileStates.objects.filter(made__lt=timezone.now() - TIDIED_AFTER).exclude(pk__in=held)
    gone = list(old.values_list("pk", "states", "folders")[:500])
    FileStates.objects.filter(pk__in=[pk for pk, *_ in gone]).delete()
    for digest in {digest for _, *digests in gone for digest in digests}:
        if not FileStates.objects.filter(Q(states=digest) | Q(folders=digest)).exists():
            vault.remove(digest, unused_seconds=TIDIED_AFTER.total_seconds())
    return len(gone)
