"""What the verbs of parts and of media share: an assignment that ends once, a patient that can still be served."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.utils import timezone

from labcases.cases.models import Item
from labcases.cases.readings.actions import must_be_the_right_item
from labcases.cases.stages import ENDED, Stage
from labcases.core.clock import in_full
from labcases.custody.models import Event
from labcases.media.inside import NotReadable, heads_in, heads_said
from labcases.stock.actions.refusals import NotNow
from labcases.stock.models import DestinationAssignment, DonorPart, PartAssignment
from labcases.stock.rules import PartKind

CORRECT_IT = "Correct the donor, or the heads said here."


def end(assignment: PartAssignment | DestinationAssignment, happened: datetime, **fields: Any) -> None:
    """End it, once: of two who press, the second is told. Raises NotNow, also where a clock was set back."""
    if happened < assignment.happened:
        began, now = (in_full(timezone.localtime(moment)) for moment in (assignment.happened, timezone.now()))
        raise NotNow(
            f"This would end before it began, {began}.",
            mend=f"Look at the time, and at this computer's clock: it says {now}.",
        )
    won = type(assignment).objects.filter(pk=assignment.pk, ended=None).update(ended=happened, **fields)
    if not won:
        raise NotNow("This assignment has ended already.", mend="Reload the page and look again.")
    assignment.refresh_from_db()


def must_be_open(patient: Item) -> None:
    """Nothing is assigned to a patient that has left or will not come. Raises NotNow."""
    patient.refresh_from_db(fields=["stage"])
    if patient.stage in ENDED or patient.stage == Stage.HANDED_OVER:
        raise NotNow(f"{patient} is {patient.stage}: nothing is assigned to it any more.")
    must_be_the_right_item(patient)


def must_not_be_copied_since(patient: Item, entered: datetime, *, where: Any, mend: str) -> None:
    """The day-book is believed before the person who says that nothing was written. Raises NotNow."""
    copied = Event.objects.filter(kind="cloned", thing_code=patient.thing.code, entered__gte=entered)
    if copied.exists():
        raise NotNow(f"The day-book says that {patient} was copied while {where} served it.", mend=mend)


def alive_heads(part: DonorPart, typed: str) -> dict[str, str]:
    """The heads that are said to be alive, as a field to keep; of a stack whose heads are known, only those it has."""
    try:
        alive = heads_said(typed)
    except NotReadable as wrong:
        raise NotNow(str(wrong)) from None
    if not alive or part.part != PartKind.HEAD_STACK:
        return {}
    donor, found = part.donor, heads_in(alive)
    fitted = heads_in(donor.head_map)
    if fitted and (strange := sorted(set(found) - set(fitted))):
        raise NotNow(f"Head {strange[0]} is not fitted: {donor} has {donor.head_map}.", mend=CORRECT_IT)
    if not fitted and donor.heads and len(found) > donor.heads:
        raise NotNow(f"{len(found)} heads are said to be alive: {donor} has {donor.heads}.", mend=CORRECT_IT)
    return {"heads_alive": alive}


def taken_by(what: Any) -> str:
    """Who was faster, when somebody was: a sentence about a part or a medium; empty when it serves nobody."""
    standing = what.assignments.filter(ended=None).select_related("item__thing", "by").first()
    if standing is None:
        return ""
    by = f" by {standing.by.name}" if standing.by else ""
    return f"{what} is taken{by}: it serves {standing.item}."
