"""Families with what is expected inside at each size, for many media at once."""

from __future__ import annotations

from collections.abc import Iterable

from labcases.custody.models import Medium
from labcases.stock.models import Family


def with_families(media: Iterable[Medium]) -> None:
    """Give each medium its family with its sizes, so that asking for traits asks the database no more: two queries."""
    held = [medium for medium in media if medium.family_id]
    families = Family.objects.prefetch_related("sizes").in_bulk({medium.family_id for medium in held})
    for medium in held:
        medium.family = families[medium.family_id]
