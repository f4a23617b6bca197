"""What a technical report says of each item, gathered from the rooms that hold it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Max

from labcases.bench.arrays.enough import Member, enough
from labcases.bench.arrays.models import ArrayFinding
from labcases.bench.models import Dump, Examination
from labcases.bench.protocols.models import OrderNote
from labcases.bench.protocols.queries import ItemOrder, liftings, order_of, worded
from labcases.bench.queries import ItemFindings, ItemResult, findings_of, results_of
from labcases.bench.reading.models import CoverageUpload
from labcases.bench.reading.papers import OnPaper, on_paper
from labcases.bench.reading.queries import Read, read_of
from labcases.cases.models import Case, Item
from labcases.custody.models import Event
from labcases.stock.models import DestinationAssignment, PartAssignment
from labcases.stock.pools.models import PoolImage

NOT_COUNTED = ("technical-report-printed", "report-printed")


@dataclass(frozen=True)
class Pass:
    """One pass of reading: its uploads, and the moments between which they came."""

    number: int
    uploads: int
    spans: int
    first: datetime
    last: datetime


@dataclass(frozen=True)
class Told:
    """Everything about one item; ``photos`` show its newest findings, ``passed`` are asks with what they asked."""

    item: Item
    findings: ItemFindings
    photos: Sequence[Mapping[str, str]]
    order: ItemOrder
    passed: Sequence[tuple[str, OrderNote]]
    lifted: Sequence[str]
    dumps: Sequence[Dump]
    parts: Sequence[PartAssignment]
    destinations: Sequence[str]
    passes: Sequence[Pass]
    read: Read
    coverage: OnPaper | None
    result: ItemResult | None

    @property
    def changes(self) -> list[Any]:
        return [step for step in self.findings.steps if step.change]


def told_of(case: Case) -> list[Told]:
    """Each item of a case that came into the lab, in order."""
    items = list(Item.objects.with_context().filter(case=case).order_by("number"))
    findings = {entry.item.pk: entry for entry in findings_of(case)}
    results = {entry.item.pk: entry for entry in results_of(case)}
    orders = {order.item.pk: order for order in order_of(items)}
    return [_told(item, findings[item.pk], orders[item.pk], results.get(item.pk)) for item in items]


def _told(item: Item, findings: ItemFindings, order: ItemOrder, result: ItemResult | None) -> Told:
    read = read_of(item)
    events = liftings().filter(thing_code=item.thing.code)
    passed = OrderNote.objects.filter(item=item, how=OrderNote.How.PASSED).select_related("by").order_by("pk")
    steps = [*(state.step for state in order.judgement.steps), *order.judgement.not_needed]
    asked = {step.key: step.what for step in steps}
    parts = PartAssignment.objects.filter(item=item).select_related("part__donor__thing", "by").order_by("pk")
    return Told(
        item=item,
        findings=findings,
        photos=_photos(findings.examinations),
        order=order,
        passed=[(asked.get(note.key.partition("/")[0], note.key), note) for note in passed],
        lifted=[f"{one.because} ({one.by})" for one in worded(events)],
        dumps=list(Dump.objects.filter(item=item).select_related("by").order_by("pk")),
        parts=list(parts),
        destinations=_destinations(item),
        passes=_passes(read.uploads),
        read=read,
        coverage=on_paper(read, first_mark=f"t{item.number}"),
        result=result,
    )


def _photos(looks: Sequence[Examination]) -> list[dict[str, str]]:
    """The photos that show what was found, as ``paper/_photos.html`` wants them; of the newest findings."""
    shown = looks[0].shown_by if looks else []
    return [
        {"digest": photo.shown, "alt": photo.alt, "caption": ": ".join(filter(None, (fault, photo.words)))}
        for fault, photos in shown
        for photo in photos
    ]


def _destinations(item: Item) -> list[str]:
    held = DestinationAssignment.objects.filter(item=item, destination__use="clone").select_related(
        "destination__thing"
    )
    media = [f"{row.destination} {row.destination.medium_words}" for row in held.order_by("pk")]
    return media + [f"storage pool {image.pool}" for image in PoolImage.objects.filter(item=item).with_context()]


def _passes(uploads: Sequence[CoverageUpload]) -> list[Pass]:
    told = [upload for upload in uploads if upload.verb == CoverageUpload.Verb.OVERLAY]
    found = []
    for number in sorted({upload.pass_number for upload in told}):
        own = [upload for upload in told if upload.pass_number == number]
        moments = [upload.happened for upload in own]
        found.append(Pass(number, len(own), sum(upload.rows for upload in own), min(moments), max(moments)))
    return found


def arrays_of(case: Case) -> list[tuple[ArrayFinding, str]]:
    """How the array was put together, as found last, and whether what is left is enough."""
    newest = ArrayFinding.objects.filter(case=case).select_related("by").prefetch_related("found__item__thing").last()
    if newest is None:
        return []
    members = [Member(one.place, one.stale, one.usable) for one in newest.found.all()]
    return [(newest, enough(newest.level, newest.members, members, newest.copies).sentence)]


def as_of(case: Case) -> int:
    """The newest event of a case that a report could speak of: what makes two prints the same report."""
    events = Event.objects.filter(case_code=case.code).exclude(kind__in=NOT_COUNTED)
    return events.aggregate(last=Max("sequence"))["last"] or 0
