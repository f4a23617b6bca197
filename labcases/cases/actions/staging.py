"""The one door for stages, the exits, and the end of a case."""

from __future__ import annotations

from datetime import datetime

from labcases.cases import queries, stages
from labcases.cases.actions.refusals import NotYet, SomeoneWasFaster
from labcases.cases.models import Case, Item, StageStamp
from labcases.cases.stages import Stage
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right

# A chip goes the way of what it was taken off, but comes and leaves as a thing of its own.
_EACH_BY_ITSELF = (Stage.RECEIVED, Stage.HANDED_OVER, Stage.CLOSED)


@recorded
def advance(*, item: Item, to: Stage, by: Actor, happened: datetime, because: str = "") -> Item:
    """The one door for stages. Guards are asked again here, in the transaction; the calling verb records the event.

    Raises NotYet with every reason, or SomeoneWasFaster when the item is no longer at the stage the caller saw.
    """
    known = queries.facts_for([item])[item.pk]
    if item.parent_id and known.stage == to:
        item.stage = to  # it went along with what it was taken off
        return item
    if known.stage != item.stage:
        raise SomeoneWasFaster(
            f"{item} is “{known.stage}” now, not “{item.stage}”.", mend="Reload the page and look again."
        )
    try:
        standing = stages.stops(Stage(item.stage), to, known)
    except stages.NoSuchWay as none:
        raise NotYet(f"{item} cannot become “{to}” now.", why=str(none), mend="See its next safe step.") from None
    if standing:
        reasons = [stop.because for stop in standing]
        raise NotYet(f"{item} cannot become “{to}” yet.", why=reasons, mend=" ".join(stop.lift for stop in standing))
    along = list(item.chips.filter(stage=item.stage)) if to not in _EACH_BY_ITSELF else []
    for one in (item, *along):
        Item.objects.filter(pk=one.pk, stage=one.stage).update(stage=to)
        one.stage = to
        StageStamp.objects.create(item=one, stage=to, because=because, **Entry.stamp(by, happened))
    return item


@recorded
def end_item(*, item: Item, to: Stage, by: Actor, happened: datetime, because: str) -> Item:
    """An exit: declined, unrecoverable, withdrawn or abandoned, with its reason. A handover still follows."""
    if not (by.may(Right.EXAMINE) or by.may(Right.TAKE_IN)):
        by.must(Right.EXAMINE)
    if to not in stages.EXITS:
        raise ValueError(f"{to} is no exit.")
    advance(item=item, to=to, by=by, happened=happened, because=because)
    record("ended", thing=item.thing, by=by, happened=happened, because=f"{to}: {because}", case=item.case.code)
    return item


@recorded
def close_if_all_ended(*, case: Case, by: Actor, happened: datetime) -> bool:
    """Close a case whose items have all been handed over; returns whether it is closed now."""
    if case.closed or case.items.exclude(stage__in=[Stage.HANDED_OVER, *stages.ENDED]).exists():
        return case.closed is not None
    for item in case.items.filter(stage=Stage.HANDED_OVER):
        advance(item=item, to=Stage.CLOSED, by=by, happened=happened)
    record("closed", thing=case.thing, by=by, happened=happened, case=case.code)
    close_when_all_ended(case, happened)
    return True


def close_when_all_ended(case: Case, happened: datetime) -> None:
    """A case without an open item is closed."""
    if not case.items.still_open().exists():
        case.closed = happened
        case.save(update_fields=["closed"])
