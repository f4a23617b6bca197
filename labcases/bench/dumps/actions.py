"""The verbs of dumps: keep what was read, or say why it was not."""

from __future__ import annotations

import hashlib
from datetime import datetime

from labcases.bench.models import Dump
from labcases.cases.models import Item
from labcases.cases.readings.actions import must_be_the_right_item
from labcases.core import vault
from labcases.core.refused import Refused
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right
from labcases.stock.models import Family

MOST_BYTES = 64 * 1024 * 1024


class NoFile(Refused):
    """What was read has a file; what was not read has none."""


def keep_dump(
    *,
    kind: str,
    outcome: str,
    by: Actor,
    happened: datetime,
    item: Item | None = None,
    family: Family | None = None,
    data: bytes = b"",
    again: bytes = b"",
    name: str = "",
    note: str = "",
) -> Dump:
    """Keep a dump of an item (and so of its family), or of a family alone. ``again`` is the second reading.

    The files are in the vault before the transaction begins: a large one must not hold the ledger's lock.
    Raises NoFile when the outcome and the file do not agree.
    """
    by.must(Right.EXAMINE)
    if bool(data) != (outcome in Dump.WITH_FILE):
        said = "Give the file that was read." if not data else "What could not be read has no file."
        raise NoFile(said, mend="Choose the outcome that is true, or give the file.")
    if len(data) > MOST_BYTES or len(again) > MOST_BYTES:
        raise NoFile(
            f"A dump is {MOST_BYTES // 1024**2} MiB at most.", mend="Split it, and keep each piece by its name."
        )
    about = {"kind": kind, "outcome": outcome, "name": name, "note": note}
    file = vault.put(data) if data else ""
    second = hashlib.sha256(again).hexdigest() if again else ""
    if second and second != file:
        vault.put(again)  # which of two different readings is right is not known yet
    return _keep(item, family, Dump(file=file, second=second, size=len(data) or None, **about), by, happened)


@recorded
def _keep(item: Item | None, family: Family | None, dump: Dump, by: Actor, happened: datetime) -> Dump:
    if item is not None:
        must_be_the_right_item(item)
    dump.item, dump.family = item, family or (item.family if item else None)
    for field, value in Entry.stamp(by, happened).items():
        setattr(dump, field, value)
    dump.save()
    read = {None: "", True: ", read twice alike", False: ", two readings DIFFER"}[dump.twice]
    digest = f", sha-256 {dump.file}" if dump.file else ""
    because = f"{dump}, {dump.get_outcome_display()}{read}{digest}"
    thing, case = (item.thing, item.case.code) if item else (None, None)
    record("dumped", thing=thing, by=by, happened=happened, because=because, case=case)
    return dump
