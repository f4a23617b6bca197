"""The card of a family: what is expected, what worked, past cases and donors; and its hint while a model is typed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count
from django.utils import timezone

from labcases.cases.families import Hint, Model
from labcases.cases.models import Item
from labcases.core.text import folded_serial
from labcases.media.capacity import standard_gigabytes
from labcases.stock.expected import Expected, expected_success
from labcases.stock.models import Donor, DonorPart, Family, FamilyAlias, PartAssignment
from labcases.stock.sizes import Size, likely, sizes_in_words

SHOWN = 50


def sizes_of(family: Family) -> list[Size]:
    """What is expected at each capacity (prefetch ``sizes``)."""
    return [Size(size.gigabytes, size.heads, size.platters) for size in family.sizes.all()]


@dataclass(frozen=True)
class Worked:
    """How the use of one kind of part went in this family, and the newest reasons."""

    part: str
    expected: Expected
    reasons: list[PartAssignment]


def worked(family: Family) -> list[Worked]:
    """Outcomes of parts on patients of this family, by kind of part, in one query."""
    rows = (
        PartAssignment.objects.filter(item__family=family)
        .exclude(outcome="")
        .select_related("part__donor__thing", "part__thing", "item__thing", "item__case__thing")
    )
    by_part: dict[str, list[PartAssignment]] = {}
    for row in rows:
        by_part.setdefault(row.part.part, []).append(row)
    return [Worked(part, _expected(found), found[:5]) for part, found in sorted(by_part.items())]


def _expected(rows: Sequence[PartAssignment]) -> Expected:
    counts = {name: sum(row.outcome == name for row in rows) for name in ("worked", "partly", "failed")}
    return expected_success(**counts)


def cases_of(family: Family) -> list[Item]:
    """The newest patients of this family."""
    return list(Item.objects.with_context().filter(family=family, parent=None).order_by("-pk")[:SHOWN])


@dataclass(frozen=True)
class Donors:
    count: int
    free: dict[str, int]


def donors_of(family: Family) -> Donors:
    """How many donors there are, and which of their parts are free for anybody."""
    parts = DonorPart.objects.unreserved(at=timezone.now()).filter(donor__family=family)
    free = parts.order_by().values_list("part").annotate(Count("pk"))
    return Donors(Donor.objects.filter(family=family).count(), dict(sorted(free)))


def begun_from(item: Item) -> dict[str, Any]:
    """What a form of a new family starts with, from what is known of a patient."""
    gigabytes = _gigabytes(item)
    size = [Size(gigabytes, item.heads, item.platters)] if gigabytes else []
    sold = f"{item.maker}, {item.model}".removeprefix(", ") if item.model else ""
    return {"name": " ".join(part for part in (item.maker, item.model) if part)[:100], "sold_as": sold} | {
        "sizes": sizes_in_words(size)
    }


def _gigabytes(item: Item) -> int | None:
    usable = item.sectors and (item.sector_bytes or 512) in (512, 4096)
    return standard_gigabytes(item.sectors or 0, item.sector_bytes or 512) if usable else None


def hints(models: Sequence[Model]) -> list[Hint | None]:
    """A hint for each model number that belongs to a family, in three queries however many there are."""
    keys = {model: folded_serial(model) for _, model, _ in models if model}
    starts = {key[:n] for key in keys.values() for n in range(3, len(key) + 1)}
    rows = FamilyAlias.objects.filter(model_start__in=starts).select_related("family")
    aliases = list(rows.prefetch_related("family__sizes")) if starts else []
    return [_hint(maker, model, sectors, keys.get(model, ""), aliases) for maker, model, sectors in models]


def _hint(maker: str, model: str, sectors: int | None, key: str, aliases: Sequence[FamilyAlias]) -> Hint | None:
    fits = [a for a in aliases if key.startswith(a.model_start) and a.maker.lower() in ("", maker.lower())]
    best = max(fits, key=lambda alias: len(alias.model_start), default=None) if key else None
    if best is None:
        return None
    family = best.family
    sizes = likely(sizes_of(family), model=model, sectors=sectors)
    same = Size(1, family.heads, family.platters).words
    lines = [f"{size.gigabytes} GB: {size.words or 'inside not known'}" for size in sizes]
    lines = lines or ([f"Expected inside: {same}"] if same else [])
    offered = [(f"{size.gigabytes} GB", size.sectors) for size in sizes] if not sectors else []
    return Hint(
        family.name, family.get_absolute_url(), (*lines, *([family.quirks] * bool(family.quirks))), tuple(offered)
    )
