"""The verbs of photographs: keep, add, attach those of a draft, put right, withdraw, sweep.

Reading and shrinking a picture is slow, so it happens before: ``keep`` runs outside any transaction and puts the
files into the vault; the verbs only write rows. What is uploaded in one go is one event of the ledger, which commits
to the hash of every file as it arrived.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from django.apps import apps
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from labcases.core import vault
from labcases.core.models import Line
from labcases.core.refused import Refused
from labcases.custody import chain
from labcases.custody.actions import case_of, record, recorded
from labcases.custody.models import Photo, Thing
from labcases.custody.photos.pictures import Taken
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right, Role

MOST_OF_ONE = 300  # photos with one thing or draft
ROOM_LEFT = 300_000_000  # bytes of the disk that photos leave to everything else
BATCH_ENDS_AFTER = timedelta(minutes=10)
DRAFT_KEEPS = timedelta(days=3)
DIGEST = 64  # characters of a SHA-256


class NoRoom(Refused):
    """The disk is nearly full."""

    status = 507


class TooMany(Refused):
    """More photos than anybody looks through."""


class Elsewhere(Refused):
    """A photo can only be put with something of the same case."""


@dataclass(frozen=True)
class Kept:
    """A picture whose files lie in the vault: the fields of its row."""

    fields: dict[str, Any]


def keep(taken: Taken, data: bytes) -> Kept:
    """Put the file as it arrived and the two copies into the vault. Raises NoRoom."""
    if vault.free_bytes() < ROOM_LEFT + len(data):
        raise NoRoom(
            "The lab's disk is nearly full, so no photo is kept.",
            mend="Ask whoever looks after the machine to make room.",
        )
    fields = {name: getattr(taken, name) for name in ("kind", "width", "height", "size")}
    files = {"original": vault.put(data), "shown": vault.put(taken.shown), "thumb": vault.put(taken.thumb)}
    return Kept(fields | files | {"camera_time": taken.camera_time.isoformat(" ") if taken.camera_time else ""})


@transaction.atomic
def add_photos(
    *, kept: Sequence[Kept], to: Thing | UUID, by: Actor, happened: datetime, batch: UUID, words: str = ""
) -> list[Photo]:
    """Rows for pictures of a thing, or of a draft by its key. One that is there already is given back as it is.

    They are recorded by ``close_batch`` when all of the batch have come. Raises TooMany.
    """
    by.must(Right.PHOTOGRAPH)
    if Photo.objects.of(to).count() + len(kept) > MOST_OF_ONE:
        raise TooMany(
            f"There are {MOST_OF_ONE} photos here already or would be.",
            mend="Withdraw those that show nothing new.",
        )
    owner = {"thing": to} if isinstance(to, Thing) else {"draft": to}
    more = {"batch": batch, "words": words, **Entry.stamp(by, happened)}
    found = [_once(owner, one, more) for one in kept]
    return [photo for photo, _ in found]


def _once(owner: dict[str, Any], kept: Kept, more: dict[str, Any]) -> tuple[Photo, bool]:
    same = {**owner, "original": kept.fields["original"], "withdrawn": None}
    return Photo.objects.get_or_create(**same, defaults=kept.fields | more)


@recorded
def photograph(*, thing: Thing, kept: Sequence[Kept], by: Actor, happened: datetime, words: str = "") -> list[Photo]:
    """Photos of a thing in one go, and the event that records them."""
    batch = uuid4()
    made = add_photos(kept=kept, to=thing, by=by, happened=happened, batch=batch, words=words)
    close_batch(batch=batch)
    return made


@recorded
def close_batch(*, batch: UUID) -> int:
    """Record what was uploaded in one go: one event for each thing, however often this is asked. Returns how many.

    A draft's photos wait until there is a thing.
    """
    waiting = Photo.objects.standing().filter(batch=batch, event=None, thing__isnull=False)
    return _record(list(waiting.select_related("thing", "by")))


def close_forgotten_batches() -> int:
    """Record batches whose sender never came back to say that it was all. Job of the timetable."""
    still = timezone.now() - BATCH_ENDS_AFTER
    open_ones = Photo.objects.filter(event=None, thing__isnull=False, withdrawn=None)
    going_on = open_ones.filter(entered__gt=still).values("batch")
    batches = open_ones.exclude(batch__in=going_on).values_list("batch", flat=True).distinct().order_by()
    return sum(close_batch(batch=batch) for batch in list(batches))


def _record(photos: Sequence[Photo]) -> int:
    """One event for each thing among these photos, by whoever took them, when the first was taken."""
    by_thing: dict[int, list[Photo]] = {}
    for photo in photos:
        by_thing.setdefault(photo.thing_id or 0, []).append(photo)
    for some in by_thing.values():
        first = some[0]
        event = record(
            "photographed",
            thing=first.thing,
            by=Actor(first.by, Role(first.role)),
            happened=min(photo.happened for photo in some),
            because=said([photo.original for photo in some]),
            case=_case_code(first.thing),
        )
        Photo.objects.filter(pk__in=[photo.pk for photo in some]).update(event=event.sequence)
    return len(by_thing)


def said(originals: Sequence[str]) -> str:
    """What the event commits to: the one hash, or the tree root (RFC 9162) over several in the order of arrival.

    >>> said(["ab" * 32])
    '1 photo, SHA-256 abababababababababababababababababababababababababababababababab'
    """
    if len(originals) == 1:
        return f"1 photo, SHA-256 {originals[0]}"
    root = chain.root([bytes.fromhex(digest) for digest in originals]).hex()
    return f"{len(originals)} photos, tree root of their SHA-256 {root}"


def _case_code(thing: Thing | None) -> str | None:
    if thing is None:
        return None
    return thing.code if thing.kind == Thing.Kind.DOCKET else case_of(thing)


@recorded
def attach_draft_photos(*, draft: UUID, thing: Thing, by: Actor, happened: datetime) -> int:
    """The draft became this thing (or the docket of several): its photos go with it. Returns how many."""
    by.must(Right.PHOTOGRAPH)
    there = Photo.objects.of(thing).standing().values("original")
    moved = list(Photo.objects.of(draft).standing().exclude(original__in=there).values_list("pk", flat=True))
    Photo.objects.filter(pk__in=moved).update(thing=thing, draft=None)
    _record(list(Photo.objects.filter(pk__in=moved).select_related("thing", "by").order_by("pk")))
    return len(moved)


@transaction.atomic
def say_what_it_shows(*, photo: Photo, words: str, by: Actor, happened: datetime) -> Photo:
    """A few words under the photo. No event: the picture is what it was."""
    by.must(Right.PHOTOGRAPH)
    photo.words = words
    photo.save(update_fields=["words"])
    return photo


@recorded
def put_with(*, photo: Photo, thing: Thing, by: Actor, happened: datetime) -> Photo:
    """The photo shows another thing of the same case. Raises Elsewhere."""
    by.must(Right.PHOTOGRAPH)
    was = photo.thing
    if was is None or _case_code(was) is None or _case_code(was) != _case_code(thing):
        raise Elsewhere(f"{thing} does not belong to the same case.", mend="Withdraw the photo and add it there.")
    if Photo.objects.of(thing).standing().filter(original=photo.original).exists():
        raise Elsewhere(f"{thing} has this photo already.", mend="Withdraw it here instead.")
    because = f"SHA-256 {photo.original}, before with {was}"
    photo.thing = thing
    photo.save(update_fields=["thing"])
    record("photo-put-right", thing=thing, by=by, happened=happened, because=because, case=_case_code(thing))
    return photo


@recorded
def withdraw(*, photo: Photo, because: str, by: Actor, happened: datetime) -> Photo:
    """It was a mistake: not shown any more. The file stays, since the ledger speaks of it; a draft's is swept later."""
    by.must(Right.PHOTOGRAPH)
    won = Photo.objects.filter(pk=photo.pk, withdrawn=None).update(withdrawn=happened)
    if won and photo.thing:
        words = f"{because} (SHA-256 {photo.original})"
        case = _case_code(photo.thing)
        record("photo-withdrawn", thing=photo.thing, by=by, happened=happened, because=words, case=case)
    return photo


# --- sweeping ------------------------------------------------------------------------------------------------------


def sweep_orphans(*, wanted: Collection[UUID]) -> int:
    """Forget photos of drafts that were thrown away, or that were withdrawn from a draft. Returns how many.

    ``wanted`` are the drafts that still wait.
    """
    waiting = Photo.objects.filter(thing=None, entered__lt=timezone.now() - DRAFT_KEEPS)
    gone = list(waiting.filter(~Q(draft__in=wanted) | Q(withdrawn__isnull=False)))
    Photo.objects.filter(pk__in=[photo.pk for photo in gone], thing=None).delete()
    _forget_files(_digests(gone))
    return len(gone)


def _digests(photos: Iterable[Photo]) -> set[str]:
    return {digest for photo in photos for digest in (photo.original, photo.shown, photo.thumb)}


def _forget_files(digests: Collection[str]) -> None:
    """Remove files from the vault that no row of any table names."""
    for digest in digests:
        if not _named_somewhere(digest):
            vault.remove(digest, unused_seconds=DRAFT_KEEPS.total_seconds() / 2)


def _named_somewhere(digest: str) -> bool:
    """Whether any column that can hold a digest holds this one: a logo may be the same file as a photo."""
    return any(
        model._default_manager.filter(**{field.attname: digest}).exists()
        for model in apps.get_models()
        for field in model._meta.get_fields()
        if isinstance(field, Line) and field.max_length == DIGEST and field.model is model
    )
