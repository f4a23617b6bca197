"""The verbs of the stockroom: take into stock, assign, release, judge after use, wipe, retire.

Claims are conditional updates, the same on both engines: of two people who press at once one wins, and the other is
told who was faster.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db.models import Q

from labcases.cases.models import Item
from labcases.cases.stages import ENDED
from labcases.core import codes
from labcases.core.refused import Refused
from labcases.custody.actions import mint, new_thing, record, recorded
from labcases.custody.models import Thing, Whereabouts
from labcases.lab.models import Actor, Entry, Place, Profile
from labcases.lab.roles import Right
from labcases.stock import fitting, matching
from labcases.stock.models import (
    Destination,
    DestinationAssignment,
    Donor,
    DonorPart,
    FamilyAlias,
    PartAssignment,
    Wipe,
)
from labcases.stock.rules import RULES, PartKind

FREE, ASSIGNED = DonorPart.State.FREE, DonorPart.State.ASSIGNED


class PartTaken(Refused):
    """Somebody was faster, or the part is no longer free."""


class NotAMatch(Refused):
    """A must-match differs and nobody who may has lifted the stop."""


class DestinationTaken(Refused):
    """Somebody was faster, or the medium is no longer free."""


class DoesNotFit(Refused):
    """Too small, or not clean for this case."""


class NotNow(Refused):
    """The medium or part is in a state that does not allow this step."""


# --- into stock -----------------------------------------------------------------------------------------------------


@recorded
def stock_donor(
    *, by: Actor, happened: datetime, at: Place | None = None, parts: Sequence[str] = (), **about: Any
) -> Donor:
    """Take a donor into stock, with the parts it can give. ``about`` are the fields of Donor."""
    by.must(Right.KEEP_STOCK)
    donor = Donor(**_medium(about), **Entry.stamp(by, happened))
    body = codes.stock_body("D", mint("D"))
    donor.thing = new_thing(body, kind=Thing.Kind.DONOR, words=donor.medium_words, serial=donor.serial)
    donor.save()
    record("stocked", thing=donor.thing, by=by, happened=happened, to=_where(at, by), because=donor.supplier)
    for part in dict.fromkeys(parts):
        list_part(donor=donor, part=part, by=by, happened=happened)
    return donor


@recorded
def list_part(*, donor: Donor, part: str, by: Actor, happened: datetime, tested: str = "", note: str = "") -> DonorPart:
    """Name a part that a donor can give. Stock counts parts."""
    by.must(Right.KEEP_STOCK)
    kind = PartKind(part)
    body = codes.item_body(donor.thing.code[:-1], "P", donor.parts.count() + 1)
    thing = new_thing(body, kind=Thing.Kind.PART, words=f"{kind} of {donor.medium_words}", at=donor.thing.whereabouts)
    made = DonorPart.objects.create(
        donor=donor, thing=thing, part=kind, tested=tested, note=note, **Entry.stamp(by, happened)
    )
    record("part-listed", thing=thing, by=by, happened=happened)
    return made


@recorded
def stock_destination(*, by: Actor, happened: datetime, at: Place | None = None, **about: Any) -> Destination:
    """Take a destination or a delivery medium into stock. ``about`` are the fields of Destination."""
    by.must(Right.KEEP_STOCK)
    if about.get("state", Destination.State.SEALED) not in Destination.CLEAN:
        raise NotNow("A medium comes into stock new and sealed, or wiped and verified.", mend="Wipe it first.")
    made = Destination(**_medium(about), **Entry.stamp(by, happened))
    delivery = made.use == Destination.Use.DELIVERY
    series, kind = ("M", Thing.Kind.DELIVERY) if delivery else ("W", Thing.Kind.DESTINATION)
    body = codes.stock_body(series, mint(series))
    made.thing = new_thing(body, kind=kind, words=made.medium_words, serial=made.serial)
    made.save()
    record("stocked", thing=made.thing, by=by, happened=happened, to=_where(at, by))
    return made


def _medium(about: dict[str, Any]) -> dict[str, Any]:
    """Fill in what stock always has: a currency, and the family its model number belongs to."""
    about.setdefault("currency", Profile.current().currency)
    if about.get("family") is None and about.get("model"):
        about["family"] = FamilyAlias.family_of(about.get("maker", ""), about["model"])
    return about


def _where(at: Place | None, by: Actor) -> Whereabouts:
    return Whereabouts(place=at) if at else Whereabouts(staff=by.staff)


# --- donors ---------------------------------------------------------------------------------------------------------


def judge(part: DonorPart, patient: Item) -> matching.Verdict:
    """Whether this part fits this patient, by the rules of its kind."""
    return matching.judge(patient.traits(), part.donor.traits(), RULES[PartKind(part.part)])


@recorded
def assign_donor(*, part: DonorPart, patient: Item, by: Actor, happened: datetime, lifted: str = "") -> PartAssignment:
    """Spend a donor part on a patient.

    Raises PartTaken if someone was faster, NotAMatch if a must-match differs and nobody who may lifted it.
    """
    by.must(Right.ASSIGN)
    _must_be_open(patient)
    verdict = judge(part, patient)
    if verdict.excluded and not (lifted and by.may(Right.LIFT_STOP)):
        mend = "Choose another part, or let a manager lift the stop with a reason."
        raise NotAMatch(verdict.headline, why=_differences(verdict), mend=mend)
    won = DonorPart.objects.free().filter(pk=part.pk).update(state=ASSIGNED)
    if not won:
        raise PartTaken(_taken_by(part), mend="Choose another part.")
    made = PartAssignment.objects.create(
        part=part,
        item=patient,
        verdict=verdict.as_record(),
        lifted=lifted if verdict.excluded else "",
        **Entry.stamp(by, happened),
    )
    case = patient.case.code
    if verdict.excluded:
        record("stop-lifted", thing=patient.thing, by=by, happened=happened, because=lifted, case=case)
    because = f"for {patient.thing.printed_code}. {verdict.headline}"
    record("part-assigned", thing=part.thing, by=by, happened=happened, because=because, case=case)
    return made


def _differences(verdict: matching.Verdict) -> list[str]:
    return [reason.sentence for reason in verdict.reasons if reason.mark is matching.Mark.DIFFERENT]


def _taken_by(part: DonorPart) -> str:
    standing = part.assignments.filter(ended=None).select_related("item__thing", "by").first()
    if standing:
        by = f" by {standing.by.name}" if standing.by else ""
        return f"{part} is taken{by}: it serves {standing.item}."
    part.refresh_from_db(fields=["state"])
    return f"{part} is not free any more: it is {part.get_state_display()}."


@recorded
def release_part(*, assignment: PartAssignment, by: Actor, happened: datetime, because: str) -> PartAssignment:
    """Give a part back unused. Raises NotNow when it was released or judged already."""
    by.must(Right.ASSIGN)
    _end(assignment, happened, because=because)
    DonorPart.objects.filter(pk=assignment.part_id).update(state=FREE)
    case = assignment.item.case.code
    record("part-released", thing=assignment.part.thing, by=by, happened=happened, because=because, case=case)
    return assignment


@recorded
def judge_part(
    *,
    assignment: PartAssignment,
    outcome: str,
    by: Actor,
    happened: datetime,
    because: str,
    afterwards: str = DonorPart.State.USED,
) -> PartAssignment:
    """After use: whether the part worked, and why. ``afterwards`` is used, spoiled, or free again."""
    by.must(Right.EXAMINE)
    if afterwards not in (DonorPart.State.USED, DonorPart.State.SPOILED, FREE):
        raise ValueError(f"A part is used, spoiled or free after use, not {afterwards}.")
    _end(assignment, happened, outcome=outcome, because=because)
    DonorPart.objects.filter(pk=assignment.part_id).update(state=afterwards)
    words = f"{assignment.get_outcome_display()}, {afterwards}. {because}"
    case = assignment.item.case.code
    record("part-judged", thing=assignment.part.thing, by=by, happened=happened, because=words, case=case)
    return assignment


def _end(assignment: PartAssignment | DestinationAssignment, happened: datetime, **fields: Any) -> None:
    won = type(assignment).objects.filter(pk=assignment.pk, ended=None).update(ended=happened, **fields)
    if not won:
        raise NotNow("This assignment has ended already.", mend="Reload the page and look again.")
    assignment.refresh_from_db()


def _must_be_open(patient: Item) -> None:
    if patient.stage in ENDED or patient.stage == "handed over":
        raise NotNow(f"{patient} is {patient.stage}: nothing is assigned to it any more.")


# --- destinations ---------------------------------------------------------------------------------------------------


def fit(destination: Destination, patient: Item) -> fitting.Fit:
    """Whether the whole patient fits on this medium, and whether it may be used for this case."""
    need = fitting.Need(
        sectors=patient.sectors, sector_bytes=patient.sector_bytes or 512, case=patient.case.thing.printed_code
    )
    return fitting.fits(need, destination.room())


@recorded
def assign_destination(
    *, destination: Destination, patient: Item, by: Actor, happened: datetime
) -> DestinationAssignment:
    """Set a medium aside for a patient's clone (or, a delivery medium, for what goes out).

    Raises DoesNotFit when it is too small or holds another customer's data, DestinationTaken if someone was faster.
    """
    by.must(Right.ASSIGN)
    _must_be_open(patient)
    answer = fit(destination, patient)
    may_be_smaller = destination.use == Destination.Use.DELIVERY  # files go on it, not sectors
    claimed = _claim(destination, patient, happened) if answer.fits or may_be_smaller else 0
    if not claimed:
        destination = Destination.objects.with_context().get(pk=destination.pk)
        if destination.assignments.filter(ended=None).exists():
            raise DestinationTaken(_destination_taken_by(destination), mend="Choose another medium.")
        answer = fit(destination, patient)
        raise DoesNotFit(answer.headline, why=answer.refusals[1:], mend="Choose another medium.")
    made = DestinationAssignment.objects.create(
        destination=destination, item=patient, fit=answer.as_record(), **Entry.stamp(by, happened)
    )
    kind = "delivery-assigned" if may_be_smaller else "destination-assigned"
    because = " ".join((f"for {patient.thing.printed_code}.", answer.headline, *answer.warnings))
    record(kind, thing=destination.thing, by=by, happened=happened, because=because, case=patient.case.code)
    return made


def _claim(destination: Destination, patient: Item, happened: datetime) -> int:
    """Take it if it is clean, or holds this same case's data and serves nobody now. One update decides."""
    serving = DestinationAssignment.objects.filter(ended=None).values("destination")
    return (
        Destination.objects.assignable_to(patient.case)
        .filter(pk=destination.pk)
        .filter(~Q(pk__in=serving))
        .update(state=Destination.State.ASSIGNED, held_for=patient.case)
    )


def _destination_taken_by(destination: Destination) -> str:
    standing = destination.assignments.filter(ended=None).select_related("item__thing", "by").get()
    by = f" by {standing.by.name}" if standing.by else ""
    return f"{destination} is taken{by}: it serves {standing.item}."


@recorded
def release_destination(
    *, assignment: DestinationAssignment, written: bool, by: Actor, happened: datetime, because: str = ""
) -> DestinationAssignment:
    """End its service. ``written``: it holds customer data now, and goes to nobody else before its wipe."""
    by.must(Right.ASSIGN)
    _end(assignment, happened, because=because)
    held_before = DestinationAssignment.objects.filter(
        destination=assignment.destination, item__case=assignment.item.case, happened__lt=assignment.happened
    )
    if written or held_before.exists():
        state: dict[str, Any] = {"state": Destination.State.HOLDS_DATA}
    else:
        wiped = assignment.destination.wipes.exists()
        state = {"state": Destination.State.WIPED if wiped else Destination.State.SEALED, "held_for": None}
    Destination.objects.filter(pk=assignment.destination_id).update(**state)
    words = " ".join(("holds customer data." if "held_for" not in state else "unused.", because)).strip()
    thing, case = assignment.destination.thing, assignment.item.case.code
    record("destination-released", thing=thing, by=by, happened=happened, because=words, case=case)
    return assignment


@recorded
def wipe(*, destination: Destination, method: str, tool: str, verified: str, by: Actor, happened: datetime) -> Wipe:
    """Put a wipe on record (NIST SP 800-88: clear or purge, and how it was verified); the medium is clean again.

    Raises NotNow for a customer's own medium, and for one that still serves a patient.
    """
    by.must(Right.KEEP_STOCK)
    if destination.owned_by_id:
        raise NotNow(f"{destination} belongs to a customer: it is never wiped here.", mend="Give it back as it is.")
    if destination.assignments.filter(ended=None).exists():
        raise NotNow(f"{destination} serves a patient.", mend="Release it first.")
    held = Destination.objects.filter(pk=destination.pk).exclude(
        state__in=[Destination.State.RETIRED, Destination.State.GONE]
    )
    case = destination.held_for
    if not held.update(state=Destination.State.WIPED, held_for=None):
        raise NotNow(f"{destination} is {destination.get_state_display()}.", mend="Take another medium.")
    made = Wipe.objects.create(
        destination=destination, case=case, method=method, tool=tool, verified=verified, **Entry.stamp(by, happened)
    )
    because = f"{made.get_method_display()} with {tool}, {made.get_verified_display()}"
    thing = destination.thing
    record("wiped", thing=thing, by=by, happened=happened, because=because, case=case.code if case else None)
    return made


@recorded
def retire(*, destination: Destination, by: Actor, happened: datetime, because: str) -> Destination:
    """Take a medium out of use for good. What it holds stays on record."""
    by.must(Right.KEEP_STOCK)
    if destination.assignments.filter(ended=None).exists():
        raise NotNow(f"{destination} serves a patient.", mend="Release it first.")
    Destination.objects.filter(pk=destination.pk).update(state=Destination.State.RETIRED)
    destination.refresh_from_db()
    record("retired", thing=destination.thing, by=by, happened=happened, because=because)
    return destination
