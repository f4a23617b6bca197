"""The verbs of the lab's own records."""

from __future__ import annotations

from datetime import date, datetime

from labcases.bench.records.models import Competence, LogLine, Mishap
from labcases.bench.stations.models import Equipment
from labcases.cases.models import Item
from labcases.core.refused import Refused
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry, Staff
from labcases.lab.roles import Right


class AlreadyClosed(Refused):
    """Somebody closed or ended it in the meantime."""


@recorded
def log(
    *,
    equipment: Equipment,
    what: str,
    by: Actor,
    happened: datetime,
    particles: int | None = None,
    note: str = "",
    next_due: date | None = None,
) -> LogLine:
    """One line in the log of a machine: what was done, what was counted, when it is due again."""
    by.must(Right.EXAMINE)
    about = {"what": what, "particles": particles, "note": note, "next_due": next_due}
    made = LogLine.objects.create(equipment=equipment, **about, **Entry.stamp(by, happened))
    count = f", {particles:,} particles a cubic metre" if particles is not None else ""
    record("equipment-logged", thing=None, by=by, happened=happened, because=f"{made}{count}")
    return made


@recorded
def note_competence(
    *, person: Staff, work: str, shown_by: str, by: Actor, happened: datetime, look_again: date | None = None
) -> Competence:
    """Somebody may do a kind of work. One that stands already is ended by the new one."""
    by.must(Right.KEEP_LAB)
    Competence.objects.filter(person=person, work=work, ended=None).update(ended=happened)
    about = {"person": person, "work": work, "shown_by": shown_by, "look_again": look_again}
    made = Competence.objects.create(**about, **Entry.stamp(by, happened))
    record("competence-noted", thing=None, by=by, happened=happened, because=f"{made}, {shown_by}")
    return made


@recorded
def end_competence(*, competence: Competence, by: Actor, happened: datetime) -> Competence:
    by.must(Right.KEEP_LAB)
    if not Competence.objects.filter(pk=competence.pk, ended=None).update(ended=happened):
        raise AlreadyClosed("This has ended already.", mend="Reload the page and look again.")
    record("competence-noted", thing=None, by=by, happened=happened, because=f"{competence}, ended")
    return competence


@recorded
def note_mishap(
    *,
    what: str,
    by: Actor,
    happened: datetime,
    item: Item | None = None,
    why: str = "",
    done: str = "",
    kind: str = Mishap.Kind.WENT_WRONG,
) -> Mishap:
    """Work that went wrong, as soon as it is seen, or a complaint; why and what was done may follow.

    Whoever talks to customers hears of it first, so that they may note it like an engineer.
    """
    by.must(Right.TELL)
    made = Mishap.objects.create(item=item, what=what, why=why, done=done, kind=kind, **Entry.stamp(by, happened))
    thing, case = (item.thing, item.case.code) if item else (None, None)
    said = f"complaint: {what}" if kind == Mishap.Kind.COMPLAINT else what
    record("mishap-noted", thing=thing, by=by, happened=happened, because=said, case=case)
    return made


@recorded
def close_mishap(*, mishap: Mishap, why: str, done: str, by: Actor, happened: datetime) -> Mishap:
    """A manager closes it: why it happened, and what was done so that it does not happen again."""
    by.must(Right.LIFT_STOP)
    won = Mishap.objects.filter(pk=mishap.pk, closed=None)
    if not won.update(why=why, done=done, closed=happened, closed_by=by.staff):
        raise AlreadyClosed("This is closed already.", mend="Reload the page and look again.")
    item = mishap.item
    thing, case = (item.thing, item.case.code) if item else (None, None)
    record("mishap-closed", thing=thing, by=by, happened=happened, because=done, case=case)
    return Mishap.objects.get(pk=mishap.pk)
