"""What comes in parts: taken one by one, put together into an upload of spans or a list of files, cleared away."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID

from django.db import models
from django.db.models import Q, Sum
from django.utils import timezone

from labcases.api import spanfile
from labcases.api.actions.tokens import AnotherContent
from labcases.api.models import BenchComputer, Knock, Transfer, TransferPart
from labcases.bench.files.actions import read_list, receive
from labcases.bench.files.columns import columns_of
from labcases.bench.files.models import FileList
from labcases.bench.files.source import ListError, Source
from labcases.bench.reading.actions import Ready, derive, keep_upload, prepare, size_of
from labcases.bench.reading.models import CoverageUpload, HeadMap
from labcases.bench.spantable import Unit
from labcases.cases.models import Item
from labcases.core import vault
from labcases.core.actions import writing
from labcases.core.refused import Refused
from labcases.custody.actions import recorded
from labcases.lab.roles import Right

What = Transfer.What
MOST_PART, MOST_PARTS = 32 << 20, 10_000  # bytes of a part, unpacked, and how many parts
MOST_WHOLE = {What.COVERAGE: 256 << 20, What.FILES: 4 << 30}  # bytes of all parts together, unpacked
ROOM_LEFT = 1 << 30  # bytes that parts leave free on the disk: the lab goes on working
KEPT_UNFINISHED = timedelta(days=7)
UNUSED = timedelta(hours=1)
AT_ONCE = 100_000  # spans whose coverage is worked out while the sender waits; the worker does so for more of them
READ_AT_ONCE = 8 << 20  # bytes of a list of files that is read while the sender waits; a longer one is the worker's
PARQUET = "application/vnd.apache.parquet"  # as registered with IANA
KINDS: dict[str, tuple[str, ...]] = {What.COVERAGE: spanfile.KINDS, What.FILES: (spanfile.CSV, PARQUET)}
SOURCES = {spanfile.CSV: "csv", PARQUET: "parquet"}
# Whose bytes a part may share: a table that came by a page may be the very same file.
EVIDENCE: tuple[tuple[type[models.Model], str], ...] = (
    (CoverageUpload, "file"), (CoverageUpload, "spans"), (FileList, "file"), (FileList, "listed"), (HeadMap, "file"),
)  # fmt: skip


class NotWhole(Refused):
    """A transfer that cannot be put together as it stands."""


class NoRoom(Refused):
    """The disk is nearly full."""

    status = 507


def take_part(
    *, computer: BenchComputer, item: Item, what: str, key: UUID, number: int, data: bytes, kind: str,
    offset: int | None = None,
) -> tuple[TransferPart, bool]:  # fmt: skip
    """Keep a part, whole; and whether it was new. The first one begins the transfer.

    The same part again is no fault, also at the same moment. Raises AnotherContent for another content under its
    number, or another item or use under the key; NotWhole when the transfer is finished already and this part is none
    of it, or grows too large; NoRoom.
    """
    computer.actor.must(Right.EXAMINE)
    if vault.free_bytes() < ROOM_LEFT + len(data):
        raise NoRoom("The lab's disk is nearly full.", mend="Tell a manager, then send this part again.")
    digest = vault.put(data)
    with writing():
        transfer, _ = Transfer.objects.get_or_create(computer=computer, key=key, defaults={"item": item, "what": what})
        if (transfer.item_id, transfer.what) != (item.pk, what):
            said = f"The transfer of this key is of {transfer.item}, for {Transfer.What(transfer.what).label}."
            raise AnotherContent(said, mend="Use a new key for each item, and for each thing that is sent.")
        if earlier := transfer.parts.filter(number=number).first():
            return _must_be_the_same(earlier, digest, kind), False
        if transfer.done:
            raise NotWhole("This transfer was finished without such a part.", mend="Use a new key for what is new.")
        if (transfer.parts.aggregate(sum=Sum("size"))["sum"] or 0) + len(data) > MOST_WHOLE[What(what)]:
            many = MOST_WHOLE[What(what)] >> 20
            raise NotWhole(f"A transfer holds {many:,} MiB at most.", mend="Finish it, and begin another.")
        about = {"digest": digest, "size": len(data), "kind": kind, "offset": offset}
        part, new = TransferPart.objects.get_or_create(transfer=transfer, number=number, defaults=about)
        return _must_be_the_same(part, digest, kind), new


def _must_be_the_same(part: TransferPart, digest: str, kind: str) -> TransferPart:
    if (part.digest, part.kind) != (digest, kind):
        raise AnotherContent(
            f"{part} is there already, with other content.".capitalize(),
            why=f"What is there: {part.kind}, {part.size:,} bytes, SHA-256 {part.digest}.",
            mend="Send what was sent before, or begin a new transfer.",
        )
    return part


def _in_order(transfer: Transfer, count: int) -> list[TransferPart]:
    """The parts of a transfer that is whole."""
    parts = list(transfer.parts.all())
    there = {part.number for part in parts}
    if missing := [number for number in range(1, count + 1) if number not in there]:
        some = ", ".join(map(str, missing[:10]))
        raise NotWhole(f"Not all of {count} parts are there: missing {some}.", mend="Send them, then finish again.")
    if len(parts) > count:
        raise NotWhole(f"There are more than {count} parts: {len(parts)}.", mend="Say how many you sent.")
    if len({part.kind for part in parts}) > 1:
        raise NotWhole("The parts are of more than one media type.", mend="Begin a new transfer, of one type.")
    before = 0
    for part in parts:
        if part.offset is not None and part.offset != before:
            raise NotWhole(f"Part {part.number} was to begin at byte {part.offset:,}; {before:,} come before it.")
        before += part.size
    return parts


def _put_together(parts: Sequence[TransferPart], sha256: str, file: Path) -> None:
    """Write the parts one behind the other; one of them is in memory at a time."""
    hashed = hashlib.sha256()
    with file.open("wb") as out:
        for part in parts:
            data = vault.get(part.digest)
            hashed.update(data)
            out.write(data)
    _must_be(sha256, hashed.hexdigest())


def _must_be(said: str, found: str) -> None:
    if said and said != found:
        raise NotWhole("The SHA-256 of all parts together is another.", mend="Look which part differs; send it anew.")


def _as_said(*said: Any) -> str:
    """What tells one way of finishing from another."""
    return hashlib.sha256(json.dumps(said, sort_keys=True, default=str).encode()).hexdigest()


# --- spans that were read


def finish_coverage(
    *, transfer: Transfer, parts: int, sha256: str, unit: Unit, about: Mapping[str, Any], happened: datetime
) -> tuple[CoverageUpload, bool]:
    """Make one upload of all parts; and whether that is new. Nothing is kept unless all of it can be read.

    Of a large one the worker works the coverage out, within a minute.

    ``about`` are ``name``, ``pass_number``, ``head``, ``verb`` and ``because`` of the upload. Raises NotWhole,
    AnotherContent when it was finished in another way, BadSpanFile, BadSpan, and what ``keep_upload`` raises.
    """
    finished_as = _as_said(parts, sha256, unit, about)
    if transfer.upload_id:
        return _finished(transfer, finished_as), False
    found = _in_order(transfer, parts)
    data, kind = b"".join(vault.get(part.digest) for part in found), found[0].kind
    _must_be(sha256, hashlib.sha256(data).hexdigest())
    item = transfer.item
    spans = spanfile.read(data, kind, total=size_of(item), sector_bytes=item.sector_bytes or 512, unit=unit)
    how = {"kind": kind, "unit": unit, "delays": spans.delays is not None}
    ready = prepare(spans, data=data, name=about["name"], source=CoverageUpload.Source.STATION, how=how)
    made, new = _keep(transfer, ready, about, finished_as, happened)
    if made.rows <= AT_ONCE:
        derive(item)
    return made, new


def _finished(transfer: Transfer, finished_as: str) -> CoverageUpload:
    if transfer.finished_as != finished_as or transfer.upload is None:
        raise AnotherContent(f"This transfer was finished in another way, as {transfer.upload}.")
    return transfer.upload


@recorded
def _keep(
    transfer: Transfer, ready: Ready, about: Mapping[str, Any], finished_as: str, happened: datetime
) -> tuple[CoverageUpload, bool]:
    now = Transfer.objects.select_related("computer", "upload", "item").get(pk=transfer.pk)
    if now.upload_id:  # another request was faster
        return _finished(now, finished_as), False
    more = {name: about[name] for name in ("pass_number", "head", "verb", "because")}
    made = keep_upload(item=now.item, ready=ready, by=now.computer.actor, happened=happened, **more)
    Transfer.objects.filter(pk=now.pk).update(upload=made, finished_as=finished_as)
    return made, True


# --- files that were found


def finish_files(
    *, transfer: Transfer, parts: int, sha256: str, name: str, how: Mapping[str, Any], happened: datetime
) -> tuple[FileList, bool]:
    """Make one list of all parts; and whether that is new. A short one is read at once, a long one by the worker.

    ``how`` holds ``columns`` (field to header), ``letters`` and what ``cells.How`` takes. A transfer whose list was
    refused may be finished in another way. Raises NotWhole, AnotherContent, ListError, and what ``receive`` raises.
    """
    finished_as = _as_said(parts, sha256, how)
    if (known := _listed(transfer, finished_as)) is not None:
        return known, False
    found = _in_order(transfer, parts)
    with vault.incoming() as file:
        _put_together(found, sha256, file)
        size, headers = file.stat().st_size, _headers(file, name, found[0].kind, how["letters"])
        columns = columns_of(headers, how["columns"])
        _base_must_be_on(transfer.item, how["base"])
        digest = vault.put_file(file)
    more = {"columns": columns, "headers": headers, "sector_bytes": transfer.item.sector_bytes or 512}
    about = {"file": digest, "size": size, "name": name, "how": {**how, **more}}
    made, new = _keep_list(transfer, about, finished_as, happened)
    if new and size <= READ_AT_ONCE:
        read_list(made.pk)
        made.refresh_from_db()
    return made, new


def _headers(file: Path, name: str, kind: str, letters: Any) -> list[str]:
    source = Source(file, name, letters or None)
    if source.kind != SOURCES[kind]:
        raise ListError(f"It was sent as {kind}, and is {source.kind.upper()}.")
    return source.headers


def _base_must_be_on(item: Item, base: int) -> None:
    if item.sectors and base > item.sectors:
        raise ListError(f"Extents cannot be counted from sector {base:,}: the medium has {item.sectors:,} sectors.")


def _listed(transfer: Transfer, finished_as: str) -> FileList | None:
    """The list a transfer was finished as, if it was; None also when that was refused and another way is asked now."""
    known = transfer.file_list
    if known is None or transfer.finished_as == finished_as:
        return known
    if known.state == FileList.State.REFUSED:
        return None
    raise AnotherContent(f"This transfer was finished in another way, as {known}.")


@recorded
def _keep_list(
    transfer: Transfer, about: Mapping[str, Any], finished_as: str, happened: datetime
) -> tuple[FileList, bool]:
    now = Transfer.objects.select_related("computer", "file_list", "item").get(pk=transfer.pk)
    if (known := _listed(now, finished_as)) is not None:  # another request was faster
        return known, False
    made = receive(
        item=now.item, by=now.computer.actor, happened=happened, source=FileList.Source.STATION, **about
    )  # fmt: skip
    Transfer.objects.filter(pk=now.pk).update(file_list=made, finished_as=finished_as)
    return made, True


# --- cleared away


def tidy() -> int:
    """The worker's job: parts of finished and of forgotten transfers, and old knocks, go."""
    now = timezone.now()
    Knock.objects.filter(since__lt=now - timedelta(days=1)).delete()
    kept = Q(transfer__upload__isnull=False) | Q(transfer__file_list__state=FileList.State.KEPT)
    forgotten = Q(transfer__begun__lt=now - KEPT_UNFINISHED) & ~Q(transfer__file_list__state__in=("waiting", "reading"))
    old = TransferPart.objects.filter(kept & Q(came__lt=now - UNUSED) | forgotten)
    gone = list(old.values_list("pk", "digest")[:2_000])
    TransferPart.objects.filter(pk__in=[pk for pk, _ in gone]).delete()
    for digest in {digest for _, digest in gone}:
        used = any(model._default_manager.filter(**{name: digest}).exists() for model, name in EVIDENCE)
        if not used and not TransferPart.objects.filter(digest=digest).exists():
            vault.remove(digest, unused_seconds=UNUSED.total_seconds())
    Transfer.objects.filter(upload=None, file_list=None, parts=None, begun__lt=now - KEPT_UNFINISHED).delete()
    return len(gone)
