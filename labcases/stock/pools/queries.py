"""Reads about pools: which of them have room for a patient, what lies on one, what a certificate of erasure says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import Http404

from labcases.lab.models import Profile
from labcases.stock import fitting
from labcases.stock.pools.models import Pool, PoolImage
from labcases.stock.wiping import terms
from labcases.stock.wiping.queries import Certificate, who

SHOWN = 20


def pool_for(pk: int) -> Pool:
    """404 with a sentence when there is none."""
    found = Pool.objects.filter(pk=pk).first()
    if found is None:
        raise Http404(f"There is no storage pool {pk}.")
    return found


def image_for(pk: int) -> PoolImage:
    """404 with a sentence when there is none."""
    found = PoolImage.objects.with_context().filter(pk=pk).first()
    if found is None:
        raise Http404(f"There is no image {pk}.")
    return found


@dataclass(frozen=True)
class PoolRoom:
    """A pool, and whether it has room for a patient."""

    pool: Pool
    fit: fitting.Fit


def rooms_for(need: fitting.Need) -> list[PoolRoom]:
    """Pools in use, those that fit first, the least free room first."""
    answers = [PoolRoom(pool, fitting.fits(need, pool.room())) for pool in Pool.objects.filter(in_use=True)]
    return sorted(answers, key=lambda answer: (not answer.fit.fits, answer.pool.free))[:SHOWN]


def pools_there(request: Any) -> list[Pool]:
    """The part of the Stockroom."""
    return list(Pool.objects.filter(in_use=True)[:SHOWN])


def certificate(image: PoolImage, told: dict[str, str]) -> Certificate:
    """What the certificate of an erased image says."""
    lab = Profile.current()
    where = told.get("location") or lab.address or f"at {lab.name}"
    contact = told.get("contact") or " · ".join(part for part in (lab.phone, lab.email) if part) or lab.name
    person = who(image.ended_by, image.ended_role, image.ended, where, contact)
    return Certificate(
        standard=terms.STANDARD,
        medium=[
            ("Manufacturer", "not applicable: a file"),
            ("Model", "image file on a storage pool"),
            ("Serial", f"image {image.pk}"),
            ("Property number", f"{image.pool}, image of {image.item}"),
            ("Media type", "file on a storage pool"),
            ("Media source", f"the lab’s own; held data of case {image.item.case}"),
            ("Confidentiality before", told.get("category_before") or "not categorised"),
            ("Data backed up", told.get("backed_up") or "not stated"),
        ],
        sanitisation=[
            ("Clear, purge or destroy", "purge"),
            ("Method", "cryptographic erase: the only key was destroyed"),
            ("Tool and version", f"closed with {image.encrypted_with}"),
            ("Verification", image.seen_how),
            ("Confidentiality after", told.get("category_after") or "not categorised"),
            ("Destination", told.get("destination") or "the room it took is free again"),
        ],
        done=person,
        verified=person,
        done_by=str(image.ended_by or ""),
        verified_by=str(image.ended_by or ""),
    )
