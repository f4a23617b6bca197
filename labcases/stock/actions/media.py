"""Destinations and delivery media: set one aside for a patient, release it, hand it out, retire it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from django.db.models import Q

from labcases.cases.models import Item
from labcases.cases.queries import facts_for
from labcases.cases.stages import ENDED, Stage
from labcases.custody.actions import record, recorded
from labcases.custody.models import Whereabouts
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right
from labcases.stock import fitting
from labcases.stock.actions.refusals import DestinationTaken, DoesNotFit, NotNow
from labcases.stock.actions.standing import end, must_be_open, must_not_be_copied_since, taken_by
from labcases.stock.models import Destination, DestinationAssignment, Wipe

State = Destination.State
QUESTIONS = {Destination.Use.CLONE: fitting.fits, Destination.Use.DELIVERY: fitting.holds_files}


def need_of(patient: Item, *, planned: bool = False) -> fitting.Need:
    """What has to be held: the whole patient or, when asked for and known, what its plan reads."""
    whole = fitting.Need(patient.sectors or None, patient.sector_bytes or 512, case=patient.case.thing.printed_code)
    facts = facts_for([patient])[patient.pk] if planned else None
    if facts is None or facts.planned_bytes is None or (whole.bytes is not None and facts.planned_bytes > whole.bytes):
        return whole
    return replace(whole, planned_bytes=facts.planned_bytes, planned_end=facts.planned_end)


def fit(destination: Destination, patient: Item, *, planned: bool = False) -> fitting.Fit:
    """Whether the patient (or, on a delivery medium, its files) may go on this medium, and fits."""
    return QUESTIONS[Destination.Use(destination.use)](need_of(patient, planned=planned), destination.room())


@recorded
def assign_destination(
    *, destination: Destination, patient: Item, by: Actor, happened: datetime, planned: bool = False
) -> DestinationAssignment:
    """Set a medium aside for a patient's clone (or, a delivery medium, for what goes out).

    ``planned``: it has to hold what the plan reads, not the whole patient.

    Raises DoesNotFit when it is too small or holds another customer's data, DestinationTaken if someone was faster.
    """
    by.must(Right.ASSIGN)
    must_be_open(patient)
    answer = fit(destination, patient, planned=planned)
    was = Destination.objects.values_list("state", flat=True).get(pk=destination.pk)
    if not answer.fits or not _claim(destination, patient):
        raise _refusal(destination, patient, planned)
    # Its own case has it again: a wipe of it that was never verified is over.
    Wipe.objects.filter(destination=destination, state=Wipe.State.ENDED).update(state=Wipe.State.STOPPED)
    made = DestinationAssignment.objects.create(
        destination=destination, item=patient, fit=answer.as_record() | {"was": was}, **Entry.stamp(by, happened)
    )
    kind = "delivery-assigned" if destination.use == Destination.Use.DELIVERY else "destination-assigned"
    because = " ".join((f"for {patient.thing.printed_code}.", answer.headline, *answer.warnings))
    record(kind, thing=destination.thing, by=by, happened=happened, because=because, case=patient.case.code)
    return made


def _claim(destination: Destination, patient: Item) -> int:
    """Take it if it is clean, or holds this same case's data and serves nobody now. One update decides."""
    serving = DestinationAssignment.objects.filter(ended=None).values("destination")
    return (
        Destination.objects.assignable_to(patient.case)
        .filter(pk=destination.pk)
        .filter(~Q(pk__in=serving))
        .update(state=State.ASSIGNED, held_for=patient.case)
    )


def _refusal(destination: Destination, patient: Item, planned: bool) -> DestinationTaken | DoesNotFit:
    """Why it was not to be had, as it stands now."""
    if said := taken_by(destination):
        return DestinationTaken(said, mend="Choose another medium.")
    answer = fit(Destination.objects.with_context().get(pk=destination.pk), patient, planned=planned)
    return DoesNotFit(answer.headline, why=answer.refusals[1:], mend="Choose another medium.")


@recorded
def release_destination(
    *, assignment: DestinationAssignment, written: bool, by: Actor, happened: datetime, because: str = ""
) -> DestinationAssignment:
    """End its service. ``written``: it holds customer data now, and goes to nobody else before its wipe.

    Raises NotNow when it ended already, and for "not written" when the ledger says that a copy was made meanwhile.
    """
    by.must(Right.ASSIGN)
    medium = assignment.destination
    if not written and medium.use == Destination.Use.CLONE:
        mend = "Release it as written: then nobody else gets it before its wipe."
        must_not_be_copied_since(assignment.item, assignment.entered, where=medium, mend=mend)
    end(assignment, happened, because=because)
    change = _after_service(medium, assignment, written=written)
    Destination.objects.filter(pk=medium.pk).update(**change)
    clean = "held_for" in change
    words = " ".join(("unused." if clean else "holds customer data.", because)).strip()
    case = assignment.item.case.code
    record("destination-released", thing=medium.thing, by=by, happened=happened, because=words, case=case)
    return assignment


def _after_service(medium: Destination, assignment: DestinationAssignment, *, written: bool) -> dict[str, Any]:
    """What a medium is when its service ends: what it was before, or what holds data; what failed is retired."""
    medium.refresh_from_db(fields=["written", "healthy"])
    failed = medium.healthy is False
    if not (written or medium.written or medium.owned_by_id):
        was = State(assignment.fit.get("was", State.SEALED))
        return {
            "state": State.RETIRED if failed else was if was in Destination.CLEAN else State.SEALED,
            "held_for": None,
        }
    patient_left = Item.objects.filter(pk=assignment.item_id, stage__in=[*ENDED, Stage.HANDED_OVER]).exists()
    holds = State.KEPT if patient_left and not medium.owned_by_id else State.HOLDS_DATA
    return {"state": State.RETIRED if failed else holds, "written": True}


@recorded
def retire(*, destination: Destination, by: Actor, happened: datetime, because: str) -> Destination:
    """Take a medium out of use for good. What it holds stays on record until its wipe."""
    by.must(Right.KEEP_STOCK)
    if said := taken_by(destination):
        raise NotNow(said, mend="Release it first.")
    here = Destination.objects.filter(pk=destination.pk).exclude(state__in=[State.RETIRED, State.GONE, State.WIPING])
    if not here.update(state=State.RETIRED):
        destination.refresh_from_db()
        raise NotNow(f"{destination} is {destination.get_state_display()} already.")
    destination.refresh_from_db()
    record("retired", thing=destination.thing, by=by, happened=happened, because=because)
    return destination


@recorded
def give_out(
    *,
    destination: Destination,
    to: Whereabouts,
    by: Actor,
    happened: datetime,
    because: str = "",
    authority: str = "",
    seals: Sequence[str] = (),
    parcel: Mapping[str, str] | None = None,
) -> Destination:
    """Let a medium of a case go out with its customer; its service ends, and it never comes back as ours.

    ``parcel`` are carrier and tracking number when it is sent. Raises NotNow when it holds no case's data.
    """
    by.must(Right.HAND_OVER)
    serving = (State.ASSIGNED, State.HOLDS_DATA, State.KEPT)
    if not Destination.objects.filter(pk=destination.pk, state__in=serving).update(state=State.GONE):
        destination.refresh_from_db()
        said = f"{destination} is {destination.get_state_display()}: it carries nothing out."
        raise NotNow(said, mend="Assign a delivery medium to the case first.")
    DestinationAssignment.objects.filter(destination=destination, ended=None).update(
        ended=happened, because="handed out"
    )
    destination = Destination.objects.with_context().get(pk=destination.pk)
    case = destination.held_for.code if destination.held_for else None
    record(
        "shipped" if parcel else "handed-over", thing=destination.thing, by=by, happened=happened, to=to, case=case,
        because=because, authority=authority, seals=seals, details=parcel,
    )  # fmt: skip
    return destination
