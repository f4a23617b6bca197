"""The way of an import: the table comes, its columns are chosen, it is checked, taken in, and perhaps undone.

The worker does the long steps in chunks (``step``). Each chunk is one short transaction that first claims the place it
starts from, so a chunk that was begun twice counts once, and a killed worker's import goes on where it stood.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from django.utils import timezone

from labcases.core import importing, vault
from labcases.core.actions import remember, writing
from labcases.core.importing import Fate
from labcases.core.models import Batch
from labcases.core.queries import remembered
from labcases.core.refused import Refused
from labcases.core.tables import Table, TableError, open_table
from labcases.core.units import counted
from labcases.custody.actions import record, recorded
from labcases.custody.models import Thing
from labcases.imports import lines
from labcases.imports.kinds import KINDS, Judged, Said
from labcases.imports.ledger.actions import advance, begin_chunk, some_things, take_back_chunk, worker
from labcases.imports.models import Import, ImportRow, counts
from labcases.lab.models import Actor, Entry

S = Import.State
CHUNK = 100  # rows; of the slowest kind they are written in less than a tenth of a second
JUDGED_AT_ONCE = 400
CHANGED_AT_ONCE = 50  # each is an event of the ledger
REASONS = 5  # of refused rows that a sentence names


class NotATable(Refused):
    """The file cannot be read as a table."""


class NotNow(Refused):
    """The import is not at the point where this can be done."""


class Used(Refused):
    """Something of the import was used: it cannot be undone as a whole any more."""


def start(*, kind: str, file: Path, name: str, by: Actor, happened: datetime) -> Import:
    """Take a table in for checking; nothing of it counts yet. Raises NotATable."""
    by.must(KINDS[kind].right)
    table = _opened(file, name)
    made = Import(kind=kind, name=name[:200], file=vault.put_file(file), **Entry.stamp(by, happened))
    _look_at(made, table)
    made.save()
    return made


def read_again(*, table: Import, sheet: str, header_row: int, by: Actor) -> Import:
    """Read another sheet, or the headers from another row; the columns are guessed anew."""
    by.must(table.of.right)
    table.sheet, table.header_row = sheet, header_row
    _look_at(table, _opened(vault.path(table.file), table.name, sheet, header_row))
    _claim(table, [S.COLUMNS, S.CHECKED, S.STOPPED], S.COLUMNS)
    table.state = S.COLUMNS
    table.save(update_fields=["sheet", "header_row", "headers", "mapping", "said"])
    return table


def _opened(file: Path, name: str, sheet: str = "", header_row: int = 0) -> Table:
    try:
        with file.open("rb") as data:
            return open_table(data, name, sheet, header_row)
    except TableError as wrong:
        raise NotATable(str(wrong)) from None


def _look_at(table: Import, opened: Table) -> None:
    table.headers, table.said = opened.headers, " ".join(opened.warnings)
    known = remembered(table.kind, opened.headers)
    table.mapping = importing.guess(opened.headers, table.of.fields) if known is None else known


def check(*, table: Import, mapping: dict[str, int], by: Actor) -> Import:
    """Have every row judged with these columns (which are remembered for the next such table)."""
    by.must(table.of.right)
    _claim(table, [S.COLUMNS, S.CHECKED, S.STOPPED], S.CHECKING)
    remember(table.kind, table.headers, mapping)
    table.rows.all().delete()
    Import.objects.filter(pk=table.pk).update(mapping=mapping, reached=0, done=0, total=0, lines="", said="")
    table.refresh_from_db()
    return table


def take_in(*, table: Import, skip_refused: bool, by: Actor, happened: datetime) -> Import:
    """Begin to write what was judged new or changed. Raises Refused when rows are refused and none may be left out."""
    by.must(table.of.right)
    found = counts(table)
    if found[Fate.REFUSED] and not skip_refused:
        few = table.rows.filter(fate=Fate.REFUSED)[:REASONS]
        is_or_are = "is" if found[Fate.REFUSED] == 1 else "are"
        raise Refused(
            f"{counted(found[Fate.REFUSED], 'row')} of it {is_or_are} refused, and all or none was chosen.",
            why=[f"Row {row.number:,}: {row.because}" for row in few],
            mend="Put them right in the table and send it again, or choose to leave them out.",
        )
    if not found[Fate.NEW] and not found[Fate.CHANGES]:
        raise Refused("There is nothing to take in: no row is new, and none changes anything.")
    _claim(table, [S.CHECKED], S.APPLYING)
    batch = Batch.objects.create()
    to_do = found[Fate.NEW] + found[Fate.CHANGES]
    about = {"skip_refused": skip_refused, "batch": batch, "reached": 0, "done": 0, "total": to_do, "said": ""}
    Import.objects.filter(pk=table.pk).update(**about, **Entry.stamp(by, happened))
    table.refresh_from_db()
    return table


def leave(*, table: Import, by: Actor) -> Import:
    """Do nothing with it; its file goes when the sweep comes by."""
    by.must(table.of.right)
    _claim(table, [S.COLUMNS, S.CHECKED, S.STOPPED], S.LEFT)
    Import.objects.filter(pk=table.pk).update(ended=timezone.now())
    table.refresh_from_db()
    return table


@recorded
def undo(*, table: Import, by: Actor, happened: datetime, because: str) -> Import:
    """Take the whole import back while nothing of it was used: at once it is shown to nobody, then it is cleared away.

    Raises Used with the names of what was used.
    """
    by.must(table.of.right)
    _claim(table, [S.SHOWN], S.UNDOING)
    table.refresh_from_db()
    if used := [*table.of.used(_batch(table)), *_changed_since(table)]:
        raise Used(
            "Something of this import was used since, so it is not undone.",
            why=used[:10],
            mend="Put right what is wrong one by one, or release what was used first.",
        )
    Batch.objects.filter(pk=_batch(table)).update(shown=None)
    record("import-undone", thing=None, by=by, happened=happened, because=f"{table}, {because}", corrects=table.event)
    to_do = counts(table)[Fate.CHANGES]
    Import.objects.filter(pk=table.pk).update(reached=0, done=0, total=to_do, ended=None)
    table.refresh_from_db()
    return table


@recorded
def labelled(*, table: Import, count: int, by: Actor, happened: datetime) -> None:
    """Put on record that labels were printed. Printing a label uses nothing."""
    by.must(table.of.right)
    record("import-labelled", thing=None, by=by, happened=happened, because=f"{count:,} of {table}, {table.name}")


def _changed_since(table: Import) -> list[str]:
    """Rows that the import changed, and that something happened to afterwards."""
    if table.of.last_events is None:
        return []
    changed = table.rows.filter(fate=Fate.CHANGES, before__isnull=False).values_list("target", "seen", "number")
    events = table.of.last_events([target for target, _, _ in changed if target])
    return [
        f"Row {number} changed {events[target][0]}, and something happened to it since."
        for target, seen, number in changed
        if target in events and events[target][1] != seen
    ]


def _claim(table: Import, states: Sequence[str], to: str) -> None:
    """One update decides who takes the next step."""
    if not Import.objects.filter(pk=table.pk, state__in=states).update(state=to):
        table.refresh_from_db()
        raise NotNow(f"This import is {table.get_state_display()}.", mend="Reload the page and look again.")


def _batch(table: Import) -> int:
    if table.batch_id is None:
        raise NotNow("Nothing of this import was taken in.")
    return int(table.batch_id)


# --- the steps of the worker ----------------------------------------------------------------------------------------


def step(table: Import) -> bool:
    """Do the next chunk of whatever is to be done; False when there is nothing to do."""
    table.refresh_from_db()
    if table.state not in Import.WORKING:
        return False
    try:
        STEPS[S(table.state)](table)
    except TableError as wrong:
        Import.objects.filter(pk=table.pk, state=S.CHECKING).update(state=S.COLUMNS, said=str(wrong))
    return True


def _check_chunk(table: Import) -> None:
    if not table.lines:
        _to_lines(table)
        return
    rows, end = lines.read(vault.path(table.lines), table.reached, JUDGED_AT_ONCE)
    made = _rows_of(table, _judged(table, rows)) if rows else []
    with writing():
        if not advance(table, end, len(rows)):
            return
        ImportRow.objects.bulk_create(made)
        if end == table.reached or not rows:
            Import.objects.filter(pk=table.pk, state=S.CHECKING).update(state=S.CHECKED, reached=0, done=0)


def _to_lines(table: Import) -> None:
    """Read the file once, from its first row to its last."""
    with vault.incoming() as beside:
        with vault.path(table.file).open("rb") as data, beside.open("wb") as out:
            total = lines.write(open_table(data, table.name, table.sheet, table.header_row), out)
        if not total:
            raise TableError("There is no row below the headers.")
        digest = vault.put_file(beside)
    Import.objects.filter(pk=table.pk, state=S.CHECKING, lines="").update(lines=digest, total=total)


def _judged(table: Import, rows: Sequence[tuple[int, list[str]]]) -> list[Judged]:
    """A verdict for each row: what cannot be read is refused, the rest is judged by its kind, keys must differ."""
    kind, refused, said = table.of, [], []
    for number, cells in rows:
        row = importing.read_row(cells, table.mapping, kind.fields)
        if row.mistakes:
            refused.append(Judged(number, Fate.REFUSED, " ".join(row.mistakes)))
        else:
            said.append(Said(number, row.values))
    verdicts = kind.judge(table.batch_id, said)
    return sorted([*refused, *_without_twins(table, verdicts)], key=lambda one: one.number)


def _without_twins(table: Import, verdicts: Sequence[Judged]) -> list[Judged]:
    """Of rows with the same key the first counts, the others are refused."""
    keys = {one.key for one in verdicts if one.key}
    before = table.rows.filter(key__in=keys).values_list("key", "number") if keys else []
    first: dict[str, int] = {}
    for key, number in sorted(before, key=lambda pair: pair[1]):
        first.setdefault(key, number)
    sound = []
    for one in verdicts:
        earlier = first.setdefault(one.key, one.number) if one.key else one.number
        sound.append(one if earlier >= one.number else _twin(one, table.of.key_words, earlier))
    return sound


def _twin(one: Judged, words: str, earlier: int) -> Judged:
    return Judged(one.number, Fate.REFUSED, f"{words} stands in row {earlier} already.")


def _rows_of(table: Import, judged: Sequence[Judged]) -> list[ImportRow]:
    return [
        ImportRow(
            table=table, number=one.number, fate=one.fate, because=one.because, key=one.key[:120],
            target=one.target, seen=one.seen, changes=one.changes or None,
        )
        for one in judged
    ]  # fmt: skip


def _apply_chunk(table: Import) -> None:
    rows, end = lines.read(vault.path(table.lines), table.reached, CHUNK)
    if rows:
        _take_rows(table, rows, end)
        return
    changed = list(table.rows.filter(fate=Fate.CHANGES, before__isnull=True)[:CHANGED_AT_ONCE])
    if changed:
        _change_rows(table, changed)
    else:
        _show(table)
        if table.of.shown is not None and table.batch_id:
            table.of.shown(table.batch_id)


def _take_rows(table: Import, rows: Sequence[tuple[int, list[str]]], end: int) -> None:
    """Write the new ones of a chunk. They are judged once more: the lab has gone on since the check."""
    numbers = [number for number, _ in rows]
    fates = dict(table.rows.filter(number__in=numbers).values_list("number", "fate"))
    wanted = [row for row in rows if fates.get(row[0]) == Fate.NEW]
    judged = _judged(table, wanted) if wanted else []
    _write_chunk(table, judged, end)


@recorded
def _write_chunk(table: Import, judged: Sequence[Judged], end: int) -> None:
    good = [one for one in judged if one.fate == Fate.NEW]
    if not advance(table, end, len(good)):
        return
    late = [one for one in judged if one.fate != Fate.NEW]
    if late and not table.skip_refused:
        _stop(table, late[0])
        return
    for one in late:
        words = one.because or "It has come into the lab since the check."
        table.rows.filter(number=one.number).update(fate=Fate.REFUSED, because=words)
    if good:
        table.of.write(_batch(table), good, worker(table), table.happened)


def _stop(table: Import, because: Judged) -> None:
    said = (
        f"Row {because.number}: {because.because or 'it has come into the lab since the check.'} Nothing was taken in."
    )
    Import.objects.filter(pk=table.pk).update(state=S.STOPPING, said=said, done=0)


@recorded
def _change_rows(table: Import, rows: Sequence[ImportRow]) -> None:
    """Correct what stands in the lab already, each as a clerk would."""
    if not advance(table, table.reached, len(rows)) or table.of.change is None:
        return
    for row in rows:
        try:
            made = table.of.change(row.target or 0, row.changes or {}, row.seen, worker(table), table.happened)
        except Refused as refused:
            if not table.skip_refused:
                _stop(table, Judged(row.number, Fate.REFUSED, refused.what))
                break
            row.fate, row.because = Fate.REFUSED, refused.what
        else:
            row.before, row.seen = made
    ImportRow.objects.bulk_update(rows, ["before", "seen", "fate", "because"])


@recorded
def _show(table: Import) -> None:
    """The one update after which everybody sees the import, and the event that records it."""
    found = counts(table)
    if not Import.objects.filter(pk=table.pk, state=S.APPLYING, reached=table.reached).update(done=table.total):
        return
    now = timezone.now()
    words = (
        f"{table}: {found[Fate.NEW]:,} new and {found[Fate.CHANGES]:,} changed by “{table.name}”, SHA-256 {table.file}"
    )
    event = record(
        "imported", thing=None, by=worker(table), happened=table.happened, because=f"{table.of.title}, {words}"
    )
    Batch.objects.filter(pk=_batch(table)).update(shown=now)
    things = Thing._base_manager.filter(batch=_batch(table)).count()
    at = {"reached": 0, "done": 0, "total": things}
    Import.objects.filter(pk=table.pk).update(state=S.ENTERING, event=event.sequence, **at)


def _clear_chunk(table: Import) -> None:
    """Take back: first what was changed, then what was new, a chunk at a time."""
    changed = list(table.rows.filter(before__isnull=False).order_by("-number")[:CHANGED_AT_ONCE])
    if changed:
        _change_back(table, changed)
        return
    if table.state == S.UNDOING and (chosen := some_things(table)):
        take_back_chunk(table, chosen)
        return
    with writing():
        gone = table.of.clear(table.batch_id, CHUNK) if table.batch_id else 0
        Import.objects.filter(pk=table.pk).update(done=table.done + gone)
    if not gone:
        _cleared(table)


def _cleared(table: Import) -> None:
    """All is back as it was."""
    with writing():
        end = S.UNDONE if table.state == S.UNDOING else S.STOPPED
        batch = table.batch_id
        Import.objects.filter(pk=table.pk).update(state=end, batch=None, ended=timezone.now(), reached=0, done=0)
        Batch.objects.filter(pk=batch or 0, shown=None).delete()


@recorded
def _change_back(table: Import, rows: Sequence[ImportRow]) -> None:
    """Correct back what the import had changed; what somebody has changed since stays as they left it."""
    for row in rows:
        if table.of.change is None or row.before is None:
            continue
        try:
            table.of.change(row.target or 0, row.before, row.seen, worker(table), timezone.now())
        except Refused as refused:
            row.because = f"Not put back: {refused.what}"
        row.before = None
    ImportRow.objects.bulk_update(rows, ["before", "because"])


STEPS = {
    S.CHECKING: _check_chunk,
    S.APPLYING: _apply_chunk,
    S.ENTERING: begin_chunk,
    S.STOPPING: _clear_chunk,
    S.UNDOING: _clear_chunk,
}


# --- what the kinds share -------------------------------------------------------------------------------------------


def sweep(before: datetime) -> int:
    """Forget the files of imports that ended before this moment; what became of them stays on record."""
    old = Import.objects.filter(ended__lt=before).exclude(file="", lines="")
    for table in old:
        for digest in {table.file, table.lines} - {""}:
            vault.remove(digest, unused_seconds=0)
        ImportRow.objects.filter(table=table, fate=Fate.REFUSED).update(because="")
    return old.update(file="", lines="")
