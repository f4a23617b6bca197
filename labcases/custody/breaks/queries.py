"""Breaks as people read them: which lines have some, and what was answered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count

from labcases.custody import lines
from labcases.custody.models import Break, LineCheck, Thing
from labcases.custody.queries import words_of


@dataclass(frozen=True)
class Shown:
    """A break with the words of its answer, empty while it has none."""

    row: Break
    answer: str
    by: str


def shown(rows: Sequence[Break]) -> list[Shown]:
    """Breaks with their answers, in one more query."""
    words = words_of([row.answered for row in rows if row.answered])
    said = [words.get(row.answered or 0, {}) for row in rows]
    return [Shown(row, text.get("because", ""), text.get("by", "")) for row, text in zip(rows, said, strict=True)]


def of_thing(thing: Thing) -> list[Shown]:
    """The breaks of one line, oldest first."""
    return shown(list(thing.breaks.select_related("thing").order_by("event", "pk")))


@dataclass(frozen=True)
class Lines:
    """How the lines of all things stand: open breaks by grade, things that have some, and the last walk."""

    grades: list[tuple[str, int]]
    things: int
    answered: int
    check: LineCheck | None

    @property
    def whole(self) -> bool:
        return not self.things


def lines_of_all(request: Any) -> Lines:
    """A fixed number of queries, from what is kept on the things: no event is read."""
    counted = Break.objects.filter(answered=None).values_list("grade").annotate(many=Count("pk"))
    by_grade = dict(counted.order_by())
    return Lines(
        [(grade, by_grade[grade]) for grade in lines.GRADES if grade in by_grade],
        Thing.objects.filter(breaks_open__gt=0).count(),
        Break.objects.exclude(answered=None).count(),
        LineCheck.objects.first(),
    )
