"""What came of parts that were used: the history that expected success is reckoned from."""

from __future__ import annotations

from typing import Any

from django.db.models import Count, IntegerField
from django.db.models.fields.json import KeyTextTransform
from django.db.models.functions import Cast

from labcases.stock.expected import History, Outcome, Use
from labcases.stock.models import PartAssignment
from labcases.stock.rules import PartKind


def history(part: PartKind | None = None) -> History:
    """Recorded outcomes by family, part and score band, counted by the database: one query."""
    rows: Any = PartAssignment.objects.exclude(outcome="").exclude(item__family=None).order_by()
    if part:
        rows = rows.filter(part__part=part)
    score = Cast(KeyTextTransform("score", "verdict"), IntegerField())
    counted = rows.annotate(score=score).values_list("item__family__name", "part__part", "score", "outcome")
    return History.of(
        Use(family, PartKind(kind), score or 0, Outcome(outcome))
        for family, kind, score, outcome, count in counted.annotate(Count("pk"))
        for _ in range(count)
    )
