"""Donor parts: spend one on a patient, reserve one, give it back unused, judge it after use."""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone

from labcases.cases.models import Item
from labcases.cases.queries import facts_for
from labcases.core.clock import in_full
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right
from labcases.stock import matching
from labcases.stock.actions.buying import meet_need, offer_to_needs
from labcases.stock.actions.refusals import AskedFirst, NotAMatch, NotNow, PartReserved, PartTaken
from labcases.stock.actions.standing import alive_heads, end, must_be_open, taken_by
from labcases.stock.models import DonorPart, PartAssignment
from labcases.stock.queries.ruling import rules_for
from labcases.stock.rules import PartKind

FREE, ASSIGNED, RETURNED = DonorPart.State.FREE, DonorPart.State.ASSIGNED, DonorPart.State.RETURNED
PREAMPLIFIER = "preamplifier"  # the class of fault that an examination names
UNRESERVED = {"reserved_for": None, "reserved_until": None}


def _at(moment: datetime) -> str:
    return in_full(timezone.localtime(moment))


def judge(part: DonorPart, patient: Item) -> matching.Verdict:
    """Whether this part fits this patient, by the rules that count for its kind and the patient's family."""
    return matching.judge(patient.traits(), part.traits(), rules_for(part.part, patient.family_id).rules)


def asked_before(kind: str, patient: Item) -> str:
    """What must be answered before such a part is fitted; empty when nothing."""
    if kind != PartKind.CONTROLLER_BOARD or PREAMPLIFIER not in facts_for([patient])[patient.pk].faults:
        return ""
    return f"The preamplifier of {patient} is found faulty: a short in it also kills a donor board."


@recorded
def assign_donor(
    *, part: DonorPart, patient: Item, by: Actor, happened: datetime, lifted: str = "", answered: str = ""
) -> PartAssignment:
    """Spend a donor part on a patient.

    Raises PartTaken if someone was faster; NotAMatch if a must-match differs, PartReserved if it is reserved for
    another patient, and nobody who may lifted it; AskedFirst if the patient asks for an answer first.
    """
    by.must(Right.ASSIGN)
    must_be_open(patient)
    book = rules_for(part.part, patient.family_id)
    verdict = matching.judge(patient.traits(), part.traits(), book.rules)
    lifting = bool(lifted) and by.may(Right.LIFT_STOP)
    _must_match(verdict, lifting=lifting)
    if (question := asked_before(part.part, patient)) and not answered:
        raise AskedFirst(question, mend="Check it for a short, unpowered, and say below how and what came out.")
    over = _reserved_for_another(part, patient)
    if over and not lifting:
        raise _reserved(part)
    if not _claim(part, patient, lifting=lifting):
        raise PartTaken(_taken_by(part), mend="Choose another part.")
    made = PartAssignment.objects.create(
        part=part,
        item=patient,
        verdict=verdict.as_record() | {"rules": book.name},
        lifted=lifted if verdict.excluded or over else "",
        answered=answered if question else "",
        **Entry.stamp(by, happened),
    )
    _record_assigned(made, verdict, over, by=by, happened=happened)
    meet_need(part=part, patient=patient, by=by, happened=happened)
    return made


def _record_assigned(
    made: PartAssignment, verdict: matching.Verdict, over: Item | None, *, by: Actor, happened: datetime
) -> None:
    patient, thing, case = made.item, made.part.thing, made.item.case.code
    if over:
        because = f"given to {patient} by a manager: {made.lifted}"
        record("reservation-ended", thing=thing, by=by, happened=happened, because=because, case=over.case.code)
    if verdict.excluded:
        record("stop-lifted", thing=patient.thing, by=by, happened=happened, because=made.lifted, case=case)
    answer = f" Preamplifier: {made.answered}" if made.answered else ""
    because = f"for {patient.thing.printed_code}. {verdict.headline}{answer}"
    record("part-assigned", thing=thing, by=by, happened=happened, because=because, case=case)


def _must_match(verdict: matching.Verdict, *, lifting: bool) -> None:
    if verdict.excluded and not lifting:
        why = [reason.sentence for reason in verdict.reasons if reason.mark is matching.Mark.DIFFERENT]
        mend = "Choose another part, or let a manager lift the stop with a reason."
        raise NotAMatch(verdict.headline, why=why, mend=mend)


def _claim(part: DonorPart, patient: Item, *, lifting: bool = False) -> int:
    """Take it if it is free. One update decides, whatever the caller's copy of the row says.

    A reservation counts as long as its time has not come: what ran out holds nothing, and nobody has to end it.
    """
    free = DonorPart.objects.free()
    if not lifting:
        free = DonorPart.objects.unreserved(at=timezone.now(), unless_for=patient)
    return free.filter(pk=part.pk).update(state=ASSIGNED, **UNRESERVED)


def _reserved_for_another(part: DonorPart, patient: Item) -> Item | None:
    """Whom it is kept for now, if that is somebody else. The caller's copy is left as it is."""
    row = DonorPart.objects.select_related("reserved_for__thing", "reserved_for__case__thing").get(pk=part.pk)
    held = row.reserved_now if row.on_the_shelf else None
    return held if held and held.pk != patient.pk else None


def _reserved(part: DonorPart) -> PartReserved:
    part.refresh_from_db(fields=["reserved_for", "reserved_until"])
    until = _at(part.reserved_until) if part.reserved_until else ""
    mend = "Choose another part, or let a manager lift it with a reason."
    return PartReserved(f"{part} is reserved for {part.reserved_for} until {until}.", mend=mend)


def _taken_by(part: DonorPart) -> str:
    part.refresh_from_db(fields=["state"])
    return taken_by(part) or f"{part} is not free any more: it is {part.get_state_display()}."


@recorded
def reserve_part(
    *, part: DonorPart, patient: Item, until: datetime, by: Actor, happened: datetime, because: str = ""
) -> DonorPart:
    """Keep a part for a patient until a time; after it the part is free again by itself.

    Raises NotNow for a time that has passed or lies too far ahead, NotAMatch, PartReserved and PartTaken.
    """
    by.must(Right.ASSIGN)
    must_be_open(patient)
    now = timezone.now()
    if not now < until <= now + DonorPart.LONGEST:
        raise NotNow(
            f"A reservation ends between now, {_at(now)} by this computer's clock, and {_at(now + DonorPart.LONGEST)}.",
            mend="Choose another time; if the clock is wrong, set it right first.",
        )
    _must_match(judge(part, patient), lifting=False)
    if _reserved_for_another(part, patient):
        raise _reserved(part)
    free = DonorPart.objects.unreserved(at=now, unless_for=patient).filter(pk=part.pk)
    if not free.update(reserved_for=patient, reserved_until=until):
        raise PartTaken(_taken_by(part), mend="Choose another part.")
    words = f"for {patient} until {_at(until)}. {because}".strip()
    record("part-reserved", thing=part.thing, by=by, happened=happened, because=words, case=patient.case.code)
    part.refresh_from_db()
    return part


@recorded
def end_reservation(*, part: DonorPart, by: Actor, happened: datetime, because: str = "") -> DonorPart:
    """Let go of a reservation before its time. Raises NotNow when there is none."""
    by.must(Right.ASSIGN)
    part.refresh_from_db()
    held = part.reserved_for
    if held is None or not DonorPart.objects.filter(pk=part.pk, reserved_for=held).update(**UNRESERVED):
        raise NotNow(f"{part} is not reserved any more.", mend="Reload the page and look again.")
    words = f"for {held}. {because}".strip()
    record("reservation-ended", thing=part.thing, by=by, happened=happened, because=words, case=held.case.code)
    part.refresh_from_db()
    return part


@recorded
def release_part(*, assignment: PartAssignment, by: Actor, happened: datetime, because: str) -> PartAssignment:
    """Give a part back unused. Raises NotNow when it was released or judged already."""
    by.must(Right.ASSIGN)
    end(assignment, happened, because=because)
    used = PartAssignment.objects.filter(part=assignment.part_id).exclude(outcome="").exists()
    DonorPart.objects.filter(pk=assignment.part_id).update(state=RETURNED if used else FREE)
    case = assignment.item.case.code
    record("part-released", thing=assignment.part.thing, by=by, happened=happened, because=because, case=case)
    _offer(assignment.part_id, by=by, happened=happened)
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
    heads_alive: str | None = None,
) -> PartAssignment:
    """After use: whether the part worked, and why. ``afterwards`` is used, spoiled, or returned to the shelf.

    ``heads_alive`` are the heads of a stack that still live; None leaves what is known. One part's fate says nothing
    of the others of its donor.
    """
    by.must(Right.EXAMINE)
    after = RETURNED if afterwards == FREE else DonorPart.State(afterwards)
    if after not in (DonorPart.State.USED, DonorPart.State.SPOILED, RETURNED):
        raise ValueError(f"A part is used, spoiled or back on its shelf after use, not {afterwards}.")
    end(assignment, happened, outcome=outcome, because=because)
    alive = alive_heads(assignment.part, heads_alive or "")
    DonorPart.objects.filter(pk=assignment.part_id).update(state=after, **alive)
    words = f"{assignment.get_outcome_display()}, {after.label}. {because}"
    case = assignment.item.case.code
    record("part-judged", thing=assignment.part.thing, by=by, happened=happened, because=words, case=case)
    _offer(assignment.part_id, by=by, happened=happened)
    return assignment


def _offer(part: int, *, by: Actor, happened: datetime) -> None:
    """What is back on its shelf is held against what is to be bought, as new stock is."""
    offer_to_needs(parts=list(DonorPart.objects.free().with_context().filter(pk=part)), by=by, happened=happened)
