"""The verbs of stations: keep equipment, begin and end a session, say who looks at it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from labcases.bench.protocol_steps import IDENTIFY
from labcases.bench.protocols.actions import must_be_open
from labcases.bench.stations.models import Equipment, Port, Session
from labcases.cases.models import Item
from labcases.cases.readings.actions import must_be_the_right_item
from labcases.core.refused import Refused
from labcases.custody.actions import record, recorded
from labcases.custody.models import Thing
from labcases.custody.noting.actions import begin_power
from labcases.lab.models import Actor, Entry, Staff
from labcases.lab.roles import Right


class NotRunning(Refused):
    """A session that has ended, or a machine that is not there any more."""


@recorded
def keep_equipment(
    *, name: str, kind: str, by: Actor, happened: datetime, serial: str = "", note: str = "", ports: Sequence[str] = ()
) -> Equipment:
    """A machine or tool comes into the lab's records, with its ports if patients are plugged into it."""
    by.must(Right.EXAMINE)
    made = Equipment.objects.create(name=name, kind=kind, serial=serial, note=note, **Entry.stamp(by, happened))
    Port.objects.bulk_create([Port(equipment=made, name=port) for port in dict.fromkeys(ports)])
    record("equipment-kept", thing=None, by=by, happened=happened, because=f"{name} ({made.get_kind_display()})")
    return made


@recorded
def begin(
    *, port: Port, item: Item, by: Actor, happened: datetime, doing: str = "", watcher: Staff | None = None
) -> Session:
    """A patient gets power on a port.

    In its line of custody that is one power session, from here to ``end``. Raises WrongItem, NotInThisOrder while its
    bench order forbids power, NotRunning on a machine that is retired, NotThere or NotNow when it cannot have power.
    """
    by.must(Right.EXAMINE)
    must_be_the_right_item(item)
    must_be_open(item, IDENTIFY)
    if port.equipment.retired:
        raise NotRunning(f"{port.equipment} is not in use any more.", mend="Choose a port of another machine.")
    stamp = Entry.stamp(by, happened)
    made = Session.objects.create(port=port, item=item, doing=doing, watcher=watcher, **stamp)
    about = {"station": port.equipment.name, "port": port.name}
    begin_power(thing=item.thing, by=by, happened=happened, because=doing, **about)
    return made


@recorded
def end(*, session: Session, ending: str, by: Actor, happened: datetime, hands_on: int | None = None) -> Session:
    """It has no power any more. ``hands_on`` are minutes of people, apart from the machine's."""
    by.must(Right.EXAMINE)
    if happened < session.happened:
        raise NotRunning("It cannot have ended before it began.", mend="Put the moment right.")
    won = Session.objects.running().filter(pk=session.pk).update(ended=happened, ending=ending, hands_on=hands_on)
    if not won:
        raise NotRunning(f"{session} has ended already.", mend="Reload the page and look again.")
    session.refresh_from_db()
    said = f"{session.port}: {session.get_ending_display()}, {session.machine_words}"
    item = session.item
    # Moved meanwhile, or its end noted by hand: custody knows no open power session, and gets no second end.
    powered = Thing.objects.get(pk=item.thing_id).is_powered
    kind = "power-ended" if powered else "session-ended"
    record(kind, thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)
    return session


@recorded
def power_went(*, sessions: Sequence[Session], by: Actor, happened: datetime) -> list[Session]:
    """The power went: all of these have none any more, from this moment on. All or none. Raises NotRunning."""
    by.must(Right.EXAMINE)
    if not sessions:
        raise NotRunning("None was chosen.", mend="Tick the ports that had no power any more.")
    return [end(session=one, ending=Session.Ending.POWER_CUT, by=by, happened=happened) for one in sessions]


@recorded
def watch(*, session: Session, watcher: Staff | None, by: Actor, happened: datetime) -> Session:
    """Who looks at it tonight."""
    by.must(Right.EXAMINE)
    if not Session.objects.running().filter(pk=session.pk).update(watcher=watcher):
        raise NotRunning(f"{session} has ended already.", mend="Reload the page and look again.")
    said = f"{session.port}, looked at by {watcher or 'nobody'}"
    item = session.item
    record("session-watched", thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)
    return session
