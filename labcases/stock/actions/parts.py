"""Donor parts: spend one on a patient, give it back unused, judge it after use."""

from __future__ import annotations

from datetime import datetime

from labcases.cases.models import Item
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right
from labcases.stock import matching
from labcases.stock.actions.refusals import NotAMatch, PartTaken
from labcases.stock.actions.standing import end, must_be_open, taken_by
from labcases.stock.models import DonorPart, PartAssignment
from labcases.stock.rules import RULES, PartKind

FREE, ASSIGNED = DonorPart.State.FREE, DonorPart.State.ASSIGNED


def judge(part: DonorPart, patient: Item) -> matching.Verdict:
    """Whether this part fits this patient, by the rules of its kind."""
    return matching.judge(patient.traits(), part.donor.traits(), RULES[PartKind(part.part)])


@recorded
def assign_donor(*, part: DonorPart, patient: Item, by: Actor, happened: datetime, lifted: str = "") -> PartAssignment:
    """Spend a donor part on a patient.

    Raises PartTaken if someone was faster, NotAMatch if a must-match differs and nobody who may lifted it.
    """
    by.must(Right.ASSIGN)
    must_be_open(patient)
    verdict = judge(part, patient)
    if verdict.excluded and not (lifted and by.may(Right.LIFT_STOP)):
        mend = "Choose another part, or let a manager lift the stop with a reason."
        raise NotAMatch(verdict.headline, why=_differences(verdict), mend=mend)
    if not _claim(part):
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


def _claim(part: DonorPart) -> int:
    """Take it if it is free. One update decides, whatever the caller's copy of the row says."""
    return DonorPart.objects.free().filter(pk=part.pk).update(state=ASSIGNED)


def _differences(verdict: matching.Verdict) -> list[str]:
    return [reason.sentence for reason in verdict.reasons if reason.mark is matching.Mark.DIFFERENT]


def _taken_by(part: DonorPart) -> str:
    part.refresh_from_db(fields=["state"])
    return taken_by(part) or f"{part} is not free any more: it is {part.get_state_display()}."


@recorded
def release_part(*, assignment: PartAssignment, by: Actor, happened: datetime, because: str) -> PartAssignment:
    """Give a part back unused. Raises NotNow when it was released or judged already."""
    by.must(Right.ASSIGN)
    end(assignment, happened, because=because)
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
    end(assignment, happened, outcome=outcome, because=because)
    DonorPart.objects.filter(pk=assignment.part_id).update(state=afterwards)
    words = f"{assignment.get_outcome_display()}, {afterwards}. {because}"
    case = assignment.item.case.code
    record("part-judged", thing=assignment.part.thing, by=by, happened=happened, because=words, case=case)
    return assignment
