"""Reads about stocktakes: how far one is, and its newest scans."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Q
from django.http import Http404

from labcases.lab.models import Place
from labcases.stock.takes.models import Stocktake, TakeLine

NEWEST = 12


def take_for(pk: int) -> Stocktake:
    """404 with a sentence when there is none."""
    found = Stocktake.objects.select_related("by", "ended_by").prefetch_related("places").filter(pk=pk).first()
    if found is None:
        raise Http404(f"There is no stocktake {pk}.")
    return found


def going_on(request: Any) -> list[Stocktake]:
    """The part of the Stockroom: stocktakes that are open."""
    return list(Stocktake.objects.filter(state=Stocktake.State.OPEN).prefetch_related("places")[:NEWEST])


@dataclass(frozen=True)
class Progress:
    """How far a stocktake is."""

    counts: dict[str, int]
    newest: list[TakeLine]
    places: list[tuple[Place, int, int]]

    @property
    def total(self) -> int:
        """Everything that was expected."""
        return sum(self.counts[name] for name in ("expected", "found", "misplaced"))

    @property
    def done(self) -> int:
        return self.total - self.counts["expected"]

    @property
    def differing(self) -> int:
        return sum(number for name, number in self.counts.items() if name != "found")


def progress(take: Stocktake) -> Progress:
    """In three queries, whatever was counted."""
    newest = take.lines.with_context().exclude(counted=None).order_by("-counted", "-pk")[:NEWEST]
    rows = take.lines.exclude(expected_at=None).order_by().values_list("expected_at")
    counted = rows.annotate(done=Count("pk", filter=~Q(found_at=None)), total=Count("pk"))
    there = {place: (done, total) for place, done, total in counted}
    return Progress(
        take.lines.counts(), list(newest), [(place, *there.get(place.pk, (0, 0))) for place in take.places.all()]
    )
