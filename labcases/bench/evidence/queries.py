"""Reads of evidence: the photos that may show what was found, and findings with those that do."""

from __future__ import annotations

from django.db.models import Prefetch

from labcases.bench.models import Evidence
from labcases.cases.models import Item
from labcases.custody.models import Photo
from labcases.custody.photos.queries import things_of_its_case


def with_evidence() -> Prefetch:
    """For ``prefetch_related`` of examinations: ``shown_by``, two queries for all."""
    return Prefetch("evidence", queryset=Evidence.objects.standing(), to_attr="shown")


def photos_for(item: Item) -> list[Photo]:
    """Photos of the item first, then of whatever else came with its case; oldest first."""
    near = things_of_its_case(item.thing)
    found = Photo.objects.standing().filter(thing__in=near).select_related("thing")
    return sorted(found, key=lambda photo: (photo.thing_id != item.thing_id, photo.pk))
