"""Reads of the handover: what may go and what stops it, who is due to collect, and everything a report says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Max, Q
from django.urls import NoReverseMatch, reverse
from django.utils import timezone

from labcases.bench.files.queries import Found, found_of
from labcases.bench.queries import ItemFindings, findings_of, results_of
from labcases.cases import words
from labcases.cases.models import Case, Item, StageStamp
from labcases.cases.queries import facts_for
from labcases.cases.stages import EDGES, EXITS, Stage, stops
from labcases.core import clock
from labcases.core.units import binary, counted, si
from labcases.custody.models import Event, Thing
from labcases.custody.queries import entries
from labcases.handover import report
from labcases.handover.models import Handover, HandoverLine
from labcases.handover.parcels.queries import Parcel, parcels_of
from labcases.lab.models import Actor, Profile
from labcases.lab.roles import Right
from labcases.office.models import Quote
from labcases.office.queries import accounts_of
from labcases.paper.models import Paper
from labcases.people import phone
from labcases.stock.models import Destination, PartAssignment, PoolImage

SHOWN = 50
MAY_GO = (Stage.READY, *EXITS)
KINDS_OF_PAPER = ("handover-report", "handover-receipt")
DOCKET_KINDS = ("ownership-disputed", "dispute-settled", "held-by-law", "hold-ended")
RELEASES = ("handed-over", "shipped", "left-with-us")


# --- what stops it --------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Lift:
    """A way to lift a stop: what the link says and where it leads."""

    words: str
    address: str


@dataclass(frozen=True)
class Stop:
    because: str
    lift: str
    ways: list[Lift]


def stops_of(case: Case, rights: frozenset[Right]) -> list[Stop]:
    """What keeps this case from leaving, each with the addresses that lift it for somebody who holds ``rights``."""
    items = [item for item in case.items.all() if Stage.HANDED_OVER in EDGES[Stage(item.stage)]]
    facts = facts_for(items)
    standing = {
        stop.because: stop for item in items for stop in stops(Stage(item.stage), Stage.HANDED_OVER, facts[item.pk])
    }
    return [Stop(stop.because, stop.lift, _ways(stop.because, case, rights)) for stop in standing.values()]


_PAY = (
    (Right.TAKE_MONEY, "Take the payment", "office:payment"),
    (Right.WAIVE, "Put it on account or waive it", "office:settle"),
)
_SETTLE = ((Right.LIFT_STOP, "Settle the dispute", "cases:settle-dispute"),)
_END_HOLD = ((Right.LIFT_STOP, "End the hold", "cases:end-hold"),)


def _ways(because: str, case: Case, rights: frozenset[Right]) -> list[Lift]:
    doors = _PAY if "money" in because else (_SETTLE if case.disputed else ()) + (_END_HOLD if case.legal_hold else ())
    return [Lift(said, _address(name, case)) for right, said, name in doors if right in rights]


def _address(name: str, case: Case) -> str:
    try:
        return reverse(name, args=[case.thing.printed_code])
    except NoReverseMatch:  # the room of that verb draws no page of its own for it
        return case.get_absolute_url()


# --- the pages ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class HandoverRow:
    """One handover of a case, with its report when that was printed."""

    handover: Handover
    lines: list[HandoverLine]
    report: Paper | None
    parcel: Parcel | None = None


@dataclass(frozen=True)
class HandoverSection:
    """The docket's section Handed over, and the page of reports."""

    case: Case
    rows: list[HandoverRow]
    receipts: list[Paper]
    may_start: bool


def section_of(case: Case) -> HandoverSection:
    """Handovers newest first, their lines, parcels and papers, in a fixed number of queries."""
    made = list(case.handovers.select_related("by", "case__thing").prefetch_related("lines__thing"))
    papers = list(Paper.objects.of_case(case.code).filter(kind__in=KINDS_OF_PAPER))
    by_key = {paper.key: paper for paper in papers}
    parcels = parcels_of(made)
    rows = [HandoverRow(one, list(one.lines.all()), by_key.get(report_key(one)), parcels.get(one.pk)) for one in made]
    stages = {Stage(stage) for stage in case.items.values_list("stage", flat=True)}
    receipts = [paper for paper in papers if paper.kind == "handover-receipt"]
    return HandoverSection(case, rows, receipts, any(Stage.HANDED_OVER in EDGES[stage] for stage in stages))


def report_key(made: Handover) -> str:
    """What makes two prints the same report: the case and the number of the handover."""
    return f"handover-report/{made.case.code}/{made.number}"


@dataclass(frozen=True)
class ToCollect:
    """One case that may come for its things: since when, what is owed, and what stops it."""

    case: Case
    since: datetime | None
    phone: str
    balance: int
    stopped: list[str]
    part_only: bool


@dataclass(frozen=True)
class DueToCollect:
    rows: list[ToCollect]
    more: int


def due_to_collect(request: Any) -> DueToCollect:
    """The Counter's part: cases with something to give back, the longest waiting first; a fixed number of queries."""
    may_go = Case.objects.still_open().filter(items__stage__in=MAY_GO).distinct()
    waiting = may_go.annotate(since=Max("items__stamps__happened", filter=Q(items__stamps__stage__in=MAY_GO))).order_by(
        "since", "pk"
    )
    listed = list(waiting.for_lists()[:SHOWN])
    accounts = accounts_of(case.pk for case in listed)
    total = may_go.count() if len(listed) == SHOWN else len(listed)
    country = Profile.current().country
    rows = [_to_collect(case, accounts[case.pk].balance, country) for case in listed]
    return DueToCollect(rows, total - len(listed))


def _to_collect(case: Any, balance: int, country: str) -> ToCollect:
    number = case.bearer.phone or case.owner.phone
    stopped = [word for word, standing in (("disputed", case.disputed), ("held by law", case.legal_hold)) if standing]
    part_only = any(Stage.HANDED_OVER not in EDGES[Stage(item.stage)] for item in case.open_items())
    return ToCollect(case, case.since, phone.shown(number, country) if number else "", balance, stopped, part_only)


# --- what a report says ---------------------------------------------------------------------------------------------


def report_of(made: Handover, *, by: Actor) -> report.Report:
    """Everything about the items of this handover, in a fixed number of queries."""
    case = Case.objects.with_people().select_related("terms").get(pk=made.case_id)
    lines = list(made.lines.select_related("thing__accessory"))
    left = {line.thing_id for line in lines if line.fate != HandoverLine.Fate.LATER}
    items = list(Item.objects.with_context().filter(case=case, thing__in=left))
    of_these = {item.pk for item in items}
    findings = [entry for entry in findings_of(case) if entry.item.pk in of_these]
    results = [entry for entry in results_of(case) if entry.item.pk in of_these]
    files = found_of(items)
    profile = Profile.current()
    day = timezone.localtime(made.happened).date()
    return report.Report(
        number=made.number,
        customer=_customer(case),
        items=_items(items),
        findings=_findings(findings),
        steps=_steps(findings),
        results=[_result(entry, files.get(entry.item.pk)) for entry in results],
        wanted=_wanted(case, results),
        parts=_parts(of_these),
        lifted=_lifted(items),
        lines=[_line(line) for line in lines],
        collected=_collected(made),
        work_authorised=_authorised(case),
        worked=_worked(findings, results),
        released_by=f"{by.name}, {by.role}",
        keeps_copy=bool(results) or _holds_copy(case),
        keep_days=profile.keep_days,
        keep_until=day + timedelta(days=profile.keep_days),
        on_behalf_of="" if case.letterhead else str(case.bearer),
        custody=_custody(made, [line.thing for line in lines if line.thing_id in left]),
    )


def _customer(case: Case) -> list[tuple[str, str]]:
    owner = case.owner
    name = f"{owner.name}\n{owner.company}" if owner.company else owner.name
    facts = [("Owner", name), ("Address", owner.address)] if owner.address else [("Owner", name)]
    facts += [("Brought by", case.bearer.name)] if case.bearer_id != case.owner_id else []
    facts += [("Their number", case.reference)] if case.reference else []
    return [*facts, ("Came", case.get_way_display())]


def _items(items: Sequence[Item]) -> list[report.Item]:
    stamps = StageStamp.objects.filter(item__in=items).order_by("pk")
    received: dict[int, datetime] = {}
    ended: dict[int, StageStamp] = {}
    for stamp in stamps:
        if stamp.stage == Stage.RECEIVED:
            received.setdefault(stamp.item_id, stamp.happened)
        if stamp.stage in MAY_GO:
            ended[stamp.item_id] = stamp
    return [_item(item, received.get(item.pk), ended.get(item.pk)) for item in items]


def _item(item: Item, received: datetime | None, last: StageStamp | None) -> report.Item:
    size = item.bytes
    capacity = f"{si(size)} ({binary(size)}), {counted(item.sectors or 0, 'sector')}" if size else ""
    ended = last if last and last.stage in EXITS else None
    return report.Item(
        code=item.thing.printed_code,
        what=item.medium_words,
        serial=item.serial,
        capacity=capacity,
        state=words.said(item.marks, words.MARKS),
        told=words.said(item.behaviours, words.BEHAVIOURS),
        received=received,
        ended=ended.stage if ended else "",
        ended_why=ended.because if ended else "",
    )


def _findings(found: Sequence[ItemFindings]) -> list[report.Finding]:
    return [
        report.Finding(
            code=str(entry.item),
            when=look.happened,
            faults=look.fault_words,
            found=look.found,
            inside=look.inside,
            by=str(look.by or ""),
        )
        for entry in found
        for look in reversed(entry.examinations)
    ]


def _steps(found: Sequence[ItemFindings]) -> list[report.Step]:
    return [
        report.Step(str(entry.item), step.happened, step.what, step.method, step.change, str(step.by or ""))
        for entry in found
        for step in entry.steps
    ]


def _result(entry: Any, found: Found | None) -> report.Result:
    said = entry.result
    return report.Result(
        code=str(entry.item),
        files=said.files,
        size=said.bytes,
        sectors_read=said.sectors_read,
        sectors_total=said.sectors_total,
        share=entry.share_read,
        compared=said.get_compared_display(),
        samples=said.samples,
        malware_check=said.malware_check,
        not_recovered=said.not_recovered,
        kinds=_kinds(found) if found else (),
    )


def _kinds(found: Found) -> tuple[report.FilesOfKind, ...]:
    kinds = {kind: (counts.files, counts.bytes) for kind, counts in found.kinds.items()}
    return tuple(
        report.FilesOfKind(kind, whole, partial, lost, unknown, size)
        for kind, ((unknown, whole, partial, lost), size) in kinds.items()
    )


def _wanted(case: Case, results: Sequence[Any]) -> list[report.Wanted]:
    answers: dict[int, list[report.Answer]] = {}
    for entry in results:
        for answer in entry.answers:
            said = report.Answer(str(entry.item), answer.state, answer.words)
            answers.setdefault(answer.wanted_id, []).append(said)
    return [report.Wanted(line.what, tuple(answers.get(line.pk, []))) for line in case.wanted.all()]


def _parts(items: set[int]) -> list[report.Part]:
    used = PartAssignment.objects.filter(item__in=items).exclude(ended__isnull=False, outcome="").order_by("pk")
    return [
        report.Part(
            what=row.part.part,
            donor=str(row.part.donor),
            code=str(row.item),
            outcome=row.get_outcome_display() or "no outcome noted",
        )
        for row in used.select_related("part__donor__thing", "item__thing")
    ]


def _lifted(items: Sequence[Item]) -> list[str]:
    """Stops that a manager lifted on these items: a deviation from the lab's own order of work."""
    events = Event.objects.filter(kind="stop-lifted", thing_code__in=[item.thing.code for item in items])
    return [f"{entry.because} ({entry.by}, {entry.role})" for entry in entries(list(events.defer("body")))]


def _line(line: HandoverLine) -> report.Line:
    thing = line.thing
    carries = thing.kind in (Thing.Kind.DELIVERY, Thing.Kind.DESTINATION)
    came = thing.accessory.count if thing.kind == Thing.Kind.ACCESSORY else 1
    return report.Line(thing.printed_code, thing.words, came, line.counted, line.fate, line.note, carries)


def _collected(made: Handover) -> report.Collected:
    return report.Collected(
        manner=made.get_manner_display(),
        who=made.collector_name,
        as_whom=made.get_collector_display(),
        proof=made.get_proof_display(),
        owners_word=made.owners_word,
        carrier=made.carrier,
        tracking=made.tracking,
        seals=tuple(made.seals),
        signature=f"vault:{made.signature}" if made.signature else "",
        signed_how=made.signed_how,
        sample_opened=made.sample_opened,
        checked=made.delivery_checked,
        when=made.happened,
    )


def _authorised(case: Case) -> list[str]:
    said = []
    if case.terms_signed:
        allowed = [("examine", case.may_examine), ("open it for inspection in clean air", case.may_open)]
        to = " and to ".join(what for what, may in allowed if may) or "keep it safe"
        version = f", terms version {case.terms}" if case.terms else ""
        said.append(f"To {to}: {case.signed_by}, signed {_day(case.terms_signed)}{version}.")
    quote = case.quotes.filter(state=Quote.State.ACCEPTED).first()
    if quote and quote.answered:
        said.append(f"To do the work quoted as {quote}: {quote.answer_by}, {_day(quote.answered)}, {quote.answer_how}.")
    return said


def _day(when: datetime) -> str:
    return clock.long_day(timezone.localtime(when).date())


def _worked(found: Sequence[ItemFindings], results: Sequence[Any]) -> Any:
    moments = [row.happened for entry in found for row in (*entry.examinations, *entry.steps)]
    moments += [entry.result.happened for entry in results]
    days = [timezone.localtime(moment).date() for moment in moments]
    return (min(days), max(days)) if days else None


def _holds_copy(case: Case) -> bool:
    holding = [Destination.State.ASSIGNED, Destination.State.HOLDS_DATA, Destination.State.KEPT]
    on_media = Destination.objects.filter(held_for=case, owned_by=None, state__in=holding)
    return on_media.exists() or PoolImage.objects.open().filter(item__case=case).exists()


def _custody(made: Handover, things: Sequence[Thing]) -> list[report.Custody]:
    """What happened to these things up to the moment they left, and every stop on the whole case."""
    held = [thing.code for thing in things]
    events = Event.objects.filter(case_code=made.case.code).defer("body")
    released = events.filter(kind__in=RELEASES, thing_code__in=held, happened=made.happened)
    last = released.aggregate(last=Max("sequence"))["last"] or 0
    wanted = [
        event
        for event in events.filter(sequence__lte=last).order_by("happened", "sequence")
        if event.thing_code in held or event.kind in DOCKET_KINDS
    ]
    printed = {thing.code: thing.printed_code for thing in things}
    return [
        report.Custody(
            sequence=entry.sequence,
            when=entry.happened,
            code=printed.get(entry.thing, str(made.case)),
            says=entry.says,
            was=entry.was,
            now=entry.now,
            why=entry.because if entry.because not in entry.says else "",
            authority=entry.authority,
            change=entry.change,
            by=entry.by,
            role=entry.role,
            digest=entry.digest,
        )
        for entry in entries(wanted)
    ]
