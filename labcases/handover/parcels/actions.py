"""The verb of a parcel that was posted: all of it has arrived."""

from __future__ import annotations

from datetime import datetime

from labcases.core.refused import Refused
from labcases.custody.actions import recorded
from labcases.custody.models import Event
from labcases.custody.noting.actions import confirm_delivery
from labcases.handover.models import Handover
from labcases.handover.parcels.queries import parcels_of
from labcases.lab.models import Actor
from labcases.lab.roles import Right


class NothingOnItsWay(Refused):
    """Nothing of this handover is in a parcel on its way."""


class TooEarly(Refused):
    """A parcel that arrives before it was sent."""


@recorded
def parcel_arrived(
    *, handover: Handover, receiver: str, by: Actor, happened: datetime, because: str = ""
) -> list[Event]:
    """The parcel of a handover has arrived: one event for each thing of it that is still on its way.

    What was confirmed by itself or came back meanwhile is left as it is. Raises NothingOnItsWay or TooEarly.
    """
    by.must(Right.MOVE)
    parcel = parcels_of([handover]).get(handover.pk)
    if parcel is None or not parcel.waiting:
        raise NothingOnItsWay(
            f"Nothing of handover {handover} is on its way.",
            why="All of it has arrived by the record, or came back." if parcel else "It was not posted.",
            mend="Look at the line of the thing.",
        )
    if happened < handover.happened:
        raise TooEarly("It cannot have arrived before it was sent.", mend="Look at the time again.")
    same = {"receiver": receiver, "by": by, "happened": happened, "because": because}
    return [confirm_delivery(thing=thing, **same) for thing in parcel.waiting]  # type: ignore[arg-type]
