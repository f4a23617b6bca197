"""What is to be bought, what may meet it, and what a case has to pay for."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from django.db.models import Case, IntegerField, Value, When
from django.utils import timezone

from labcases.cases import models as cases
from labcases.stock import matching
from labcases.stock.comparing import operand
from labcases.stock.matching import Grade
from labcases.stock.models import DonorPart, EarlierOrder, FamilyAlias, Need
from labcases.stock.queries.inside import with_families
from labcases.stock.queries.ruling import rule_books
from labcases.stock.reasons import shown
from labcases.stock.rules import Level, Rule

SHOWN = 50
MAY_DO = (Grade.FITS, Grade.CHECK)


@dataclass(frozen=True)
class Met:
    """A part that may meet a need."""

    need: Need
    part: DonorPart
    verdict: matching.Verdict

    @property
    def sentence(self) -> str:
        return f"{self.part} may do for {self.need.item}: {self.verdict.grade}, score {self.verdict.score}."


def needs_met_by(parts: Collection[DonorPart]) -> list[Met]:
    """Which open needs these parts may meet, the best part first for each; a fixed number of queries.

    ``parts`` have their donors.
    """
    kinds = {part.part for part in parts}
    needs = list(Need.objects.still_open().with_context().filter(part__in=kinds).order_by("pk"))
    if not needs:
        return []
    with_families([need.item for need in needs] + [part.donor for part in parts])
    books, candidates = rule_books(), _candidates(parts)
    by_key: dict[Any, DonorPart] = {part.pk: part for part in parts}
    found: list[Met] = []
    for need in needs:
        rules = books.of(need.part, need.item.family_id).rules
        ranked = matching.rank(need.item.traits(), candidates[need.part], rules)
        found += [Met(need, by_key[one.candidate.key], one.verdict) for one in ranked if one.verdict.grade in MAY_DO]
    return found


def _candidates(parts: Iterable[DonorPart]) -> Mapping[str, list[matching.Candidate]]:
    by_kind: dict[str, list[matching.Candidate]] = {}
    for part in parts:
        by_kind.setdefault(part.part, []).append(matching.Candidate(part.pk, part.traits(), part.cost_minor))
    return by_kind


def wanted_attributes(patient: cases.Item, rules: Iterable[Rule]) -> list[dict[str, str]]:
    """What the part must be, and what were better, as far as it is known of the patient."""
    traits = patient.traits()
    found = []
    for rule in rules:
        if value := shown(operand(rule)(traits)):
            line = {"attribute": rule.attribute, "label": rule.label, "level": rule.level.value, "value": value}
            found.append(line)
    return found


@dataclass(frozen=True)
class Wanted:
    """A need, and what the part is to be: as it is known of the patient now while it is to be bought, else as it was
    when it was ordered."""

    need: Need
    lines: list[dict[str, str]]
    sold_as: list[str] = field(default_factory=list)  # the beginnings of model numbers of its family

    @property
    def musts(self) -> list[dict[str, str]]:
        return [line for line in self.lines if line["level"] == Level.MUST]


def wanted(needs: Iterable[Need]) -> list[Wanted]:
    """Needs with what they are to be; two queries more, however many there are. Needs ``with_context``."""
    listed = list(needs)
    unbought = [need for need in listed if need.state in Need.UNBOUGHT]
    with_families(need.item for need in unbought)
    books = rule_books()
    now = {need.pk: wanted_attributes(need.item, books.of(need.part, need.item.family_id).rules) for need in unbought}
    return [Wanted(need, now.get(need.pk, need.attributes)) for need in listed]


def to_be_bought() -> list[Wanted]:
    """What is on the purchase list, kind by kind, with the names its family is sold under."""
    listed = wanted(Need.objects.with_context().filter(state__in=Need.UNBOUGHT).order_by("part", "pk"))
    sold: dict[int | None, list[str]] = {}
    families = {one.need.item.family_id for one in listed}
    for alias in FamilyAlias.objects.filter(family__in=families - {None}).order_by("maker", "model_start"):
        sold.setdefault(alias.family_id, []).append(f"{alias}…")
    return [replace(one, sold_as=sold.get(one.need.item.family_id, [])) for one in listed]


@dataclass(frozen=True)
class PartCost:
    """What a case has to pay for a part: words for a line of its quote, an amount in minor units."""

    words: str
    amount: int
    currency: str
    non_refundable: bool


def costs_of(case: cases.Case) -> list[PartCost]:
    """The parts bought for a case and not sent back, for its quote; the margin is the office's.

    What is no longer needed counts where the customer pays it whatever comes of it; what came wrong, until it went
    back.
    """
    bought = Need.objects.filter(item__case=case, ordered__isnull=False, price__isnull=False)
    kept = bought.exclude(state=Need.State.RETURNED).exclude(state=Need.State.DROPPED, non_refundable=False)
    wrong = EarlierOrder.objects.filter(need__item__case=case, price__isnull=False, returned=None)
    return [
        *[_cost(need, need, "") for need in kept.select_related("item__thing").order_by("pk")],
        *[_cost(one.need, one, ", came wrong") for one in wrong.select_related("need__item__thing")],
    ]


def _cost(need: Need, order: Need | EarlierOrder, ending: str) -> PartCost:
    words = f"{need.part} for item {need.item.number}{ending}"
    return PartCost(words, order.price or 0, order.currency, order.non_refundable)


@dataclass(frozen=True)
class Short:
    """What is to be bought or on its way, with whether it is late."""

    rows: list[tuple[Need, bool]]


def short(request: Any) -> Short:
    """For the front of the Stockroom: the unbought first, then what was promised soonest."""
    today = timezone.localdate()
    unbought = Case(When(state__in=Need.UNBOUGHT, then=Value(0)), default=Value(1), output_field=IntegerField())
    rows = Need.objects.still_open().with_context().order_by(unbought, "promised", "pk")[:SHOWN]
    return Short([(need, need.is_late(today)) for need in rows])
