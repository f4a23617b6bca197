"""The verbs of pools: keep one, reserve room for a patient's image, change how much, release it, erase it.

Room is claimed by one conditional update of the pool, so that the sum of all reservations never passes its capacity.
Images of a case are closed with one key, kept sealed among the secrets of the case; the app encrypts no image itself.
"""

from __future__ import annotations

import secrets
from datetime import datetime
from typing import Any

from django.db.models import F, Q

from labcases.cases.models import Case, Item
from labcases.cases.secrecy.actions import erase_secret, put_secret
from labcases.cases.secrecy.models import CaseSecret
from labcases.cases.secrets import Plain
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right
from labcases.stock import fitting
from labcases.stock.actions.media import need_of
from labcases.stock.actions.refusals import DoesNotFit, NotNow
from labcases.stock.actions.standing import must_be_open, must_not_be_copied_since
from labcases.stock.models import Destination, DestinationAssignment
from labcases.stock.pools.models import Pool, PoolImage

OPENS = "images of this case on storage pools"
KEY_BYTES = 32


class PoolFull(DoesNotFit):
    """There is not as much room as was asked for."""


@recorded
def keep_pool(
    *, name: str, capacity: int, by: Actor, happened: datetime, pool: Pool | None = None, **about: Any
) -> Pool:
    """Add a pool, or change one. Raises NotNow when more is reserved than it would hold."""
    by.must(Right.KEEP_STOCK)
    if pool is None:
        pool = Pool.objects.create(name=name, capacity=capacity, **about, **Entry.stamp(by, happened))
        said = f"pool {pool} added, {capacity:,} bytes"
    else:
        if not Pool.objects.filter(pk=pool.pk, reserved__lte=capacity).update(name=name, capacity=capacity, **about):
            pool.refresh_from_db()
            said = f"{pool.reserved:,} bytes are reserved on {pool}: it cannot hold less."
            raise NotNow(said, mend="Release or erase images first.")
        pool.refresh_from_db()
        said = f"pool {pool}, {capacity:,} bytes{'' if pool.in_use else ', out of use'}"
    record("stock-changed", thing=None, by=by, happened=happened, because=said)
    return pool


@recorded
def assign_pool(*, pool: Pool, patient: Item, by: Actor, happened: datetime, planned: bool = False) -> PoolImage:
    """Reserve room on a pool for the image of a patient: for all of it or, ``planned``, for what its plan reads.

    Raises DoesNotFit when it does not fit or the patient's size is not known, PoolFull if someone was faster,
    KeyTrouble when the lab's key for secrets is not at hand.
    """
    by.must(Right.ASSIGN)
    must_be_open(patient)
    pool = Pool.objects.get(pk=pool.pk)
    if not pool.in_use:
        raise NotNow(f"{pool} is out of use.", mend="Choose another pool.")
    need = need_of(patient, planned=planned)
    answer = fitting.fits(need, pool.room())
    wanted = need.bytes if need.planned_bytes is None else need.planned_bytes
    if not wanted or not answer.fits:
        raise DoesNotFit(answer.headline, why=answer.refusals[1:], mend="Choose another pool, or a medium.")
    if not _claim(pool, wanted):
        raise PoolFull(_full(pool, wanted), mend="Choose another pool, or a medium.")
    key = _key_of(patient.case, by=by, happened=happened)
    made = PoolImage.objects.create(
        pool=pool, item=patient, key=key, size=wanted, fit=answer.as_record(), **Entry.stamp(by, happened)
    )
    because = f"{wanted:,} bytes on {pool}. {answer.headline}"
    record("image-placed", thing=patient.thing, by=by, happened=happened, because=because, case=patient.case.code)
    return made


def _claim(pool: Pool, size: int) -> int:
    """Take so many bytes if they are free. One update decides, whatever the caller's copy of the row says."""
    return Pool.objects.filter(pk=pool.pk, in_use=True, reserved__lte=F("capacity") - size).update(
        reserved=F("reserved") + size
    )


def _full(pool: Pool, size: int) -> str:
    free = Pool.objects.get(pk=pool.pk).free
    return f"{pool} has {free:,} bytes free, {size:,} are needed: somebody else reserved meanwhile."


def _key_of(case: Case, *, by: Actor, happened: datetime) -> CaseSecret:
    """The key of this case's images: the one that is there, or a new one among the secrets of the case."""
    key: CaseSecret | None = CaseSecret.objects.standing().filter(case=case, opens=OPENS).first()
    if key is not None:
        return key
    fresh = Plain(secrets.token_hex(KEY_BYTES))
    made: CaseSecret = put_secret(
        case=case, kind=CaseSecret.Kind.RECOVERY_KEY, secret=fresh, opens=OPENS, by=by, happened=happened
    )
    return made


@recorded
def resize_image(*, image: PoolImage, size: int, by: Actor, happened: datetime, because: str = "") -> PoolImage:
    """Reserve more or fewer bytes. Raises PoolFull when so much more is not free, NotNow when it has ended."""
    by.must(Right.ASSIGN)
    if size < 1:
        raise NotNow("Say how many bytes to reserve.")
    image = _open(image)
    more = size - image.size
    if more > 0 and not _claim(image.pool, more):
        raise PoolFull(_full(image.pool, more), mend="Choose another pool, or release something.")
    if more < 0:
        Pool.objects.filter(pk=image.pool_id).update(reserved=F("reserved") + more)
    was, image.size = image.size, size
    image.save(update_fields=["size"])
    item = image.item
    said = f"{was:,} → {size:,} bytes on {image.pool}. {because}".strip()
    record("image-resized", thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)
    return image


@recorded
def release_image(*, image: PoolImage, by: Actor, happened: datetime, because: str = "") -> PoolImage:
    """Give room back that nothing was written to. Raises NotNow when it has ended, and when the ledger says that a
    copy was made meanwhile, which can have gone nowhere else.
    """
    by.must(Right.ASSIGN)
    image = _open(image)
    if not _could_go_elsewhere(image):
        mend = "Erase the images by destroying their key: then their room is free."
        must_not_be_copied_since(image.item, image.entered, where=image.pool, mend=mend)
    image = _end(image, PoolImage.End.RELEASED, by=by, happened=happened, because=because)
    said = f"unused on {image.pool}. {because}".strip()
    item = image.item
    record("image-released", thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)
    return image


def _could_go_elsewhere(image: PoolImage) -> bool:
    """Whether a medium, or another pool, served this patient at the same time."""
    meanwhile = Q(ended=None) | Q(ended__gte=image.happened)
    media = DestinationAssignment.objects.filter(meanwhile, item=image.item, destination__use=Destination.Use.CLONE)
    images = PoolImage.objects.filter(meanwhile, item=image.item).exclude(pk=image.pk)
    return media.exists() or images.exists()


@recorded
def erase_images(
    *, case: Case, encrypted_with: str, seen_how: str, because: str, by: Actor, happened: datetime
) -> list[PoolImage]:
    """Destroy the key of a case's images: all of them are erased, on every pool, and their room is free.

    ``encrypted_with`` says what had closed them with the key, ``seen_how`` how it was seen that they do not open any
    more. Raises HeldByLaw while the law holds the case, NotNow when there is no image.
    """
    by.must(Right.KEEP_STOCK)
    images = list(PoolImage.objects.with_context().open().filter(item__case=case))
    if not images:
        raise NotNow(f"No image of case {case} lies on a pool.", mend="Reload the page and look again.")
    if not (encrypted_with and seen_how):
        said = "Say what had closed the images with the key, and how it was seen that they do not open."
        raise NotNow(said, why="An image that was never encrypted is not erased by destroying a key.")
    for key in CaseSecret.objects.standing().filter(pk__in={image.key_id for image in images}):
        erase_secret(secret=key, by=by, happened=happened, because=f"images erased. {because}")
    return [_erase(image, encrypted_with, seen_how, because, by=by, happened=happened) for image in images]


def _erase(
    image: PoolImage, encrypted_with: str, seen_how: str, because: str, *, by: Actor, happened: datetime
) -> PoolImage:
    how = {"encrypted_with": encrypted_with, "seen_how": seen_how}
    image = _end(image, PoolImage.End.ERASED, by=by, happened=happened, because=because, **how)
    said = f"purge, cryptographic erase: key destroyed, {encrypted_with}; {seen_how}. On {image.pool}. {because}"
    item = image.item
    record("image-erased", thing=item.thing, by=by, happened=happened, because=said.strip(), case=item.case.code)
    return image


def _end(image: PoolImage, end: str, *, by: Actor, happened: datetime, because: str, **how: str) -> PoolImage:
    """End it once, and give its bytes back. Raises NotNow."""
    image = _open(image)
    if happened < image.happened:
        raise NotNow(f"It was reserved {image.happened:%d %b %Y, %H:%M} UTC: this lies before.")
    who = {"ended_by": by.staff, "ended_role": by.role}
    won = PoolImage.objects.open().filter(pk=image.pk).update(ended=happened, end=end, because=because, **who, **how)
    if not won:
        raise NotNow("This reservation has ended already.", mend="Reload the page and look again.")
    Pool.objects.filter(pk=image.pool_id).update(reserved=F("reserved") - image.size)
    return PoolImage.objects.with_context().get(pk=image.pk)


def _open(image: PoolImage) -> PoolImage:
    found = PoolImage.objects.with_context().open().filter(pk=image.pk).first()
    if found is None:
        raise NotNow("This reservation has ended already.", mend="Reload the page and look again.")
    return found
