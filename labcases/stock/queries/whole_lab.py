"""Who gets which: every waiting patient and every free part looked at together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from django.db.models import Case, IntegerField, Q, Value, When
from django.utils import timezone

from labcases.cases.models import Item
from labcases.media.traits import Traits
from labcases.stock.allocation import FreePart, Pair, Suggestion, Waiting, suggest
from labcases.stock.models import DonorPart
from labcases.stock.queries.inside import with_families
from labcases.stock.queries.outcomes import history
from labcases.stock.queries.ruling import RuleBooks, rule_books
from labcases.stock.queries.waiting import WaitsFor, waiting_for_parts
from labcases.stock.rules import PartKind, Rule

MOST_PARTS = 10_000  # no more are looked at for one suggestion; those of the patients' families come first


@dataclass(frozen=True)
class Line:
    """One waiting patient: what it would get, and what by first come, first served."""

    item: Item
    kind: PartKind
    part: DonorPart | None
    pair: Pair | None
    in_turn: DonorPart | None

    @property
    def changed(self) -> bool:
        return (self.part and self.part.pk) != (self.in_turn and self.in_turn.pk)


@dataclass(frozen=True)
class WhoGetsWhich:
    lines: list[Line]
    headline: str
    capped: bool

    @property
    def changes(self) -> int:
        return sum(line.changed for line in self.lines)

    @property
    def unserved(self) -> list[Line]:
        return [line for line in self.lines if line.part is None]


def who_gets_which() -> WhoGetsWhich:
    """The assignment that serves most patients with the best expected success; a fixed number of queries."""
    waits, books = waiting_for_parts(), rule_books()
    rows = _free_for(waits)
    capped = len(rows) > MOST_PARTS
    suggestion = _suggest(waits, rows[:MOST_PARTS], books)
    named = {pair.part for pair in (*suggestion.pairs, *suggestion.first_come)}
    parts: dict[Any, DonorPart] = DonorPart.objects.with_context().in_bulk(named)
    now = {pair.patient: pair for pair in suggestion.pairs}
    before = {pair.patient: pair.part for pair in suggestion.first_come}
    lines = [_line(one, now.get(one.item.pk), before.get(one.item.pk), parts) for one in waits]
    return WhoGetsWhich(lines, suggestion.headline, capped)


def _free_for(waits: Sequence[WaitsFor]) -> list[DonorPart]:
    kinds = {one.kind for one in waits}
    families = {one.item.family_id for one in waits if one.item.family_id}
    near = Case(
        When(Q(donor__family__in=families) | Q(donor__family=None), then=Value(0)),
        default=Value(1),
        output_field=IntegerField(),
    )
    free = DonorPart.objects.unreserved(at=timezone.now()).filter(part__in=kinds)
    rows = list(free.select_related("donor").order_by(near, "pk")[: MOST_PARTS + 1]) if kinds else []
    with_families(row.donor for row in rows)
    return rows


def _suggest(waits: Sequence[WaitsFor], rows: Sequence[DonorPart], books: RuleBooks) -> Suggestion:
    families = {str(one.item.family): one.item.family_id for one in waits if one.item.family}
    waiting = [Waiting(one.item.pk, one.kind, one.item.traits()) for one in waits]
    free = [FreePart(row.pk, PartKind(row.part), row.traits()) for row in rows]
    return suggest(waiting, free, partial(_rules, books, families), history().success)


def _rules(books: RuleBooks, families: dict[str, int | None], kind: PartKind, traits: Traits) -> Sequence[Rule]:
    return books.of(kind, families.get(traits.family or "")).rules


def _line(one: WaitsFor, pair: Pair | None, before: Any, parts: dict[Any, DonorPart]) -> Line:
    part = parts.get(pair.part) if pair else None
    return Line(one.item, one.kind, part, pair, parts.get(before))
