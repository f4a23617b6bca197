"""The verb of evidence: say which photos show what was found."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.utils import timezone

from labcases.bench.models import Evidence, Examination, FaultClass
from labcases.core.refused import Refused
from labcases.custody.actions import record, recorded
from labcases.custody.models import Photo
from labcases.custody.photos.actions import said
from labcases.custody.photos.queries import things_of_its_case
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right


class NoEvidence(Refused):
    """A photo of another case, one that was withdrawn, or of a fault that was not found."""


@recorded
def show_findings(
    *, examination: Examination, photos: Mapping[Photo, str], by: Actor, happened: datetime
) -> Examination:
    """These photos and no others show what was found: each the fault it is given with, or ("") all of it.

    The ledger commits to the files as they arrived. Raises NoEvidence.
    """
    by.must(Right.EXAMINE)
    _must_be_of_it(examination, photos)
    held = {one.photo_id: one for one in Evidence.objects.standing().filter(examination=examination)}
    told = {photo.pk: fault for photo, fault in photos.items()}
    changed = [one for pk, one in held.items() if told.get(pk) != one.fault]
    Evidence.objects.filter(pk__in=[one.pk for one in changed]).update(dropped=timezone.now())
    kept = held.keys() - {one.photo_id for one in changed}
    new = {photo: fault for photo, fault in photos.items() if photo.pk not in kept}
    stamp = Entry.stamp(by, happened)
    Evidence.objects.bulk_create(
        [Evidence(examination=examination, photo=photo, fault=fault, **stamp) for photo, fault in new.items()]
    )
    if new or changed:
        _record(examination, photos, by, happened)
    return examination


def _must_be_of_it(examination: Examination, photos: Mapping[Photo, str]) -> None:
    near = {thing.pk for thing in things_of_its_case(examination.item.thing)} if photos else set()
    for photo, fault in photos.items():
        if photo.thing_id not in near or photo.withdrawn:
            raise NoEvidence(f"{photo} shows nothing of this case.", mend="Choose photos of its things.")
        if fault and fault not in examination.faults:
            raise NoEvidence(
                f"These findings name no fault of the kind “{FaultClass(fault).label}”.",
                mend="Choose one that was found, or the findings as a whole.",
            )


def _record(examination: Examination, photos: Mapping[Photo, str], by: Actor, happened: datetime) -> None:
    """One line for each fault that photos show: how many, and what commits to them."""
    lines = []
    for fault in ("", *examination.faults):
        some = [photo.original for photo, told in photos.items() if told == fault]
        if some:
            lines.append(f"{FaultClass(fault).label if fault else 'the findings'}: {said(some)}")
    item = examination.item
    because = "; ".join(lines) or "no photo"
    record("findings-shown", thing=item.thing, by=by, happened=happened, because=because, case=item.case.code)
