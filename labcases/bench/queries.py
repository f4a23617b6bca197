"""Reads of the bench."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Any

from labcases.bench.evidence.queries import with_evidence
from labcases.bench.files.queries import Found, found_of, sampled
from labcases.bench.identity.actions import AT_WORK
from labcases.bench.models import Examination, Result, Step, WantedResult
from labcases.bench.protocols.queries import order_facts
from labcases.bench.records.models import Mishap
from labcases.bench.stations.hours import in_hours
from labcases.bench.stations.models import Session
from labcases.cases.models import Case, Item, StageStamp
from labcases.cases.readings.models import Reading
from labcases.cases.stages import EDGES, Stage
from labcases.custody.models import Event


def facts(items: Sequence[Item]) -> Mapping[int, Mapping[str, Any]]:
    """This room's facts about items, from the newest examination and result of each."""
    known: dict[int, dict[str, Any]] = {item.pk: {} for item in items}
    for examination in Examination.objects.filter(item__in=known).order_by("pk"):
        of_item = known[examination.item_id]
        inside = examination.inside or of_item.get("inspected_inside", False)  # seen once, it was seen
        of_item.update(_of_examination(examination), inspected_inside=inside)
    worked_since = _last_start(known)
    for pk, entered in Result.objects.filter(item__in=known).order_by("pk").values_list("item", "entered"):
        known[pk]["result_checked"] = pk not in worked_since or entered >= worked_since[pk]
    cloned = set(
        Event.objects.filter(kind="cloned", thing_code__in=[i.thing.code for i in items]).values_list(
            "thing_code", flat=True
        )
    )
    for item in items:
        known[item.pk]["clone_noted"] = item.thing.code in cloned
    opened = sampled(list(known))
    for pk, order in order_facts(items).items():
        known[pk].update(order)
        if pk in opened:
            known[pk]["bench_known"] |= {"samples"}  # a step of the bench order is a fact of its name
    return known


def _of_examination(examination: Examination) -> dict[str, Any]:
    return {
        "examined": True,
        "found": examination.fault_words,
        "faults": frozenset(examination.faults),
        "prospects": examination.prospects,
        "needs_part": examination.needs_part,
    }


def _last_start(items: Any) -> dict[int, Any]:
    """When work last began on each item: a result from before that says nothing about it."""
    stamps = StageStamp.objects.filter(item__in=items, stage=Stage.IN_WORK).order_by("pk")
    return dict(stamps.values_list("item", "entered"))


@dataclass(frozen=True)
class ItemFindings:
    """The findings about one item: newest examination first, steps in their order."""

    item: Item
    examinations: list[Examination]
    steps: list[Step]
    readings: list[Reading]
    sessions: list[Session]
    mishaps: list[Mishap]
    may_go_back: bool
    may_lose_a_chip: bool

    @property
    def machine(self) -> str:
        """Hours under power, all sessions together."""
        return in_hours(sum((session.machine_hours for session in self.sessions), timedelta()))

    @property
    def people(self) -> str:
        """Hours of hands on it, as far as they were noted."""
        noted = [session.hands_on for session in self.sessions if session.hands_on is not None]
        return in_hours(timedelta(minutes=sum(noted))) if noted else "not noted"


def findings_of(case: Case) -> list[ItemFindings]:
    """The docket's section Findings."""
    items = list(case.items.select_related("thing", "case__thing"))
    looks = _by_item(Examination.objects.filter(item__case=case).select_related("by").prefetch_related(with_evidence()))
    steps = _by_item(Step.objects.filter(item__case=case).select_related("by"))
    read = _by_item(Reading.objects.filter(item__case=case).order_by("-pk"))
    wrong = _by_item(Mishap.objects.filter(item__case=case))
    ran = _by_item(Session.objects.filter(item__case=case).with_context().order_by("happened"))
    return [_findings(item, looks, steps, read, ran, wrong) for item in items]


def _findings(item: Item, looks: Any, steps: Any, read: Any, ran: Any, wrong: Any) -> ItemFindings:
    stage, solid = Stage(item.stage), item.parent_id is None and not item.spinning
    return ItemFindings(
        item,
        looks.get(item.pk, []),
        steps.get(item.pk, []),
        read.get(item.pk, []),
        ran.get(item.pk, []),
        wrong.get(item.pk, []),
        may_go_back=Stage.EXAMINED in EDGES[stage],
        may_lose_a_chip=solid and stage in AT_WORK,
    )


@dataclass(frozen=True)
class ItemResult:
    """What came of one item, and the answer to each wanted line."""

    item: Item
    result: Result | None
    answers: list[WantedResult]
    found: Found | None = None

    @property
    def share_read(self) -> str:
        """Percent of the sectors read, floored to two decimals: an incomplete disk never shows 100."""
        if self.result is None or not self.result.sectors_read or not self.result.sectors_total:
            return ""
        hundredths = self.result.sectors_read * 10_000 // self.result.sectors_total
        return f"{hundredths // 100}.{hundredths % 100:02d} %"


def results_of(case: Case) -> list[ItemResult]:
    """The newest result of each item."""
    results = Result.objects.filter(item__case=case).select_related("item__thing", "item__case__thing", "by")
    newest = {result.item_id: result for result in results.order_by("pk")}
    answers: dict[int, list[WantedResult]] = {}
    for answer in (
        WantedResult.objects.filter(result__in=newest.values()).select_related("wanted").order_by("wanted__number")
    ):
        answers.setdefault(answer.result_id, []).append(answer)
    return [ItemResult(result.item, result, answers.get(result.pk, [])) for result in newest.values()]


def recovered_of(case: Case) -> list[ItemResult]:
    """The docket's section Recovered: of each item its newest result, and what the lists of its files say."""
    items = list(case.items.select_related("thing", "case__thing"))
    found, results = found_of(items), {entry.item.pk: entry for entry in results_of(case)}
    return [replace(results.get(i.pk, ItemResult(i, None, [])), found=found.get(i.pk)) for i in items]


def _by_item(rows: Any) -> dict[int, list[Any]]:
    grouped: dict[int, list[Any]] = {}
    for row in rows:
        grouped.setdefault(row.item_id, []).append(row)
    return grouped
