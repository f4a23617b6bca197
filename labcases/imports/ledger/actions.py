"""The lines of the things of an import: begun once everybody sees them, closed when the import is undone.

First events are written after the one update that shows the import, never before: what fails, or is thrown away, was
never the lab's, and an event cannot be taken back. Whatever touches a thing before its chunk has come writes that first
event itself (``custody.firsts``), so that no line begins in another way.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.utils import timezone

from labcases.custody.appending.actions import recorded
from labcases.custody.firsts.actions import begin_lines, take_back
from labcases.custody.firsts.beginning import Beginning
from labcases.custody.models import Event, Thing
from labcases.imports.models import Import
from labcases.lab.models import Actor, Staff
from labcases.lab.roles import Role

S = Import.State
BEGUN_AT_ONCE = 250  # appended in one lot, in about a tenth of a second


def worker(table: Import) -> Actor:
    """Who the chunks are written by: the person who pressed, in the role they pressed in."""
    return Actor(table.by, Role(table.role))


def advance(table: Import, end: int, count: int) -> int:
    """Claim the chunk: whoever comes second finds that the import has gone on already."""
    mine = Import.objects.filter(pk=table.pk, state=table.state, reached=table.reached, done=table.done)
    return mine.update(reached=end, done=table.done + count)


@recorded
def begin_chunk(table: Import) -> None:
    """Begin the lines of some of its things. What was touched since it is shown has its beginning already."""
    chosen = some_things(table)
    begun = [thing for thing in chosen if not thing.last_event]
    if not chosen:
        Import.objects.filter(pk=table.pk, state=S.ENTERING).update(state=S.SHOWN, reached=0, ended=timezone.now())
    elif advance(table, chosen[-1].pk, len(chosen)) and begun:
        begin_lines(begun, Beginning(worker(table), table.happened, str(table)))


def some_things(table: Import) -> list[Thing]:
    """The next of its things, in the order of their keys; none when nothing of it was taken in."""
    things = Thing._base_manager.filter(batch=table.batch_id or 0, pk__gt=table.reached).order_by("pk")
    return list(things.select_related("place", "staff", "party")[:BEGUN_AT_ONCE])


@recorded
def take_back_chunk(table: Import, chosen: Sequence[Thing]) -> None:
    """Close the lines of some of its things, which are then removed."""
    begun = [thing for thing in chosen if thing.last_event]
    if advance(table, chosen[-1].pk, 0) and begun:
        take_back(begun, _undoing(table))


def _undoing(table: Import) -> Beginning:
    """Who undid it and when, as the ledger says."""
    event = Event.objects.defer("body").filter(kind="import-undone", corrects=table.event).latest("sequence")
    return Beginning(Actor(Staff.objects.get(ref=event.actor_ref), Role(event.role)), event.happened, f"{table} undone")
