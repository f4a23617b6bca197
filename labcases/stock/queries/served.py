"""What serves whom: the facts of this room, and the docket's section Parts & clones."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count
from django.utils import timezone

from labcases.cases.models import Case, Item
from labcases.cases.stages import ENDED, Stage
from labcases.stock.models import Destination, DestinationAssignment, DonorPart, Need, PartAssignment, PoolImage


def facts(items: Sequence[Item]) -> Mapping[int, Mapping[str, Any]]:
    """This room's facts about items: what serves each of them now."""
    keys = [item.pk for item in items]
    # A part that was used and judged has served; only what was released unused does not count.
    parts = PartAssignment.objects.filter(item__in=keys).exclude(ended__isnull=False, outcome="")
    clones = DestinationAssignment.objects.filter(item__in=keys, ended=None, destination__use=Destination.Use.CLONE)
    images = _counts(PoolImage.objects.open().filter(item__in=keys))
    parts_of_each, media = _counts(parts), _counts(clones)
    return {
        pk: {"donor_parts": parts_of_each.get(pk, 0), "destinations": media.get(pk, 0) + images.get(pk, 0)}
        for pk in keys
    }


def _counts(rows: Any) -> dict[int, int]:
    return dict(rows.order_by().values_list("item").annotate(Count("pk")))


@dataclass(frozen=True)
class Served:
    """What serves one item, the newest first, and what is bought and kept for it; ``open``: more may be assigned."""

    item: Item
    parts: list[PartAssignment]
    media: list[DestinationAssignment]
    images: list[PoolImage]
    needs: list[Need]
    kept: list[DonorPart]
    open: bool

    @property
    def anything(self) -> bool:
        return bool(self.parts or self.media or self.images or self.needs or self.kept)


def parts_of(case: Case) -> list[Served]:
    """The docket's section: one entry an item, in six queries."""
    items = case.items.select_related("thing", "case__thing")
    parts = part_history().filter(item__case=case)
    media = medium_history().filter(item__case=case)
    images = PoolImage.objects.with_context().filter(item__case=case)
    needs = Need.objects.with_context().filter(item__case=case).exclude(state=Need.State.MET)
    reserved = DonorPart.objects.reserved(at=timezone.now()).with_context().filter(reserved_for__case=case)
    kept = list(reserved)
    gone = (*ENDED, Stage.HANDED_OVER)
    return [
        Served(
            item,
            of_item(parts, item),
            of_item(media, item),
            of_item(images, item),
            of_item(needs, item),
            [part for part in kept if part.reserved_for_id == item.pk],
            case.closed is None and item.stage not in gone,
        )
        for item in items
    ]


def of_item(rows: Any, item: Item) -> list[Any]:
    """The rows of one item; the queryset is asked once."""
    return [row for row in rows if row.item_id == item.pk]


def part_history() -> Any:
    """Assignments of parts with all that a line about one prints."""
    thing = ("part__thing__place", "part__thing__staff", "part__thing__party", "part__donor__thing")
    return PartAssignment.objects.select_related(*thing, "item__thing", "item__case__thing", "by")


def medium_history() -> Any:
    """Assignments of media with all that a line about one prints."""
    thing = ("destination__thing__place", "destination__thing__staff", "destination__thing__party")
    held = "destination__held_for__thing"
    return DestinationAssignment.objects.select_related(*thing, held, "item__thing", "item__case__thing", "by")
