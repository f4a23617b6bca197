"""The verbs around bench computers: admit and revoke; take a part, put the parts together."""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import IntegrityError
from django.db.models import F, Q, Sum
from django.utils import timezone

from labcases.api import spanfile
from labcases.api.models import BenchComputer, Knock, Sent, Transfer, TransferPart
from labcases.bench.reading.actions import Ready, derive, keep_upload, prepare, size_of
from labcases.bench.reading.models import CoverageUpload
from labcases.bench.spantable import Unit
from labcases.cases.models import Item
from labcases.core import vault
from labcases.core.actions import writing
from labcases.core.refused import Refused
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right

PREFIX = "labcases_"
SEEN_EVERY = timedelta(minutes=1)
STRETCH, KNOCKS = timedelta(minutes=10), 20
MOST_PART, MOST_WHOLE, MOST_PARTS = 32 << 20, 256 << 20, 10_000  # bytes unpacked, and how many parts
KEPT_UNFINISHED = timedelta(days=7)
UNUSED = timedelta(hours=1)
AT_ONCE = 100_000  # spans whose coverage is worked out while the sender waits; the worker does so for more of them


class AnotherContent(Refused):
    """The same key or number came with other content."""


class NotWhole(Refused):
    """A transfer that cannot be put together as it stands."""


class NotAdmitted(Refused):
    """A computer that was revoked already."""


@recorded
def admit(*, name: str, scopes: Sequence[str], by: Actor, happened: datetime) -> tuple[BenchComputer, str]:
    """Let a bench computer in; gives its token, which nothing here keeps."""
    by.must(Right.KEEP_LAB)
    token = PREFIX + secrets.token_urlsafe(32)
    made = BenchComputer.objects.create(
        name=name, digest=digest_of(token), begins=token[:12], scopes=sorted(scopes), **Entry.stamp(by, happened)
    )
    record("computer-admitted", thing=None, by=by, happened=happened, because=f"{name}: {', '.join(made.scopes)}")
    return made, token


@recorded
def revoke(*, computer: BenchComputer, because: str, by: Actor, happened: datetime) -> BenchComputer:
    """Shut a bench computer out, from now on. Raises NotAdmitted the second time."""
    by.must(Right.KEEP_LAB)
    if not BenchComputer.objects.admitted().filter(pk=computer.pk).update(revoked=timezone.now()):
        raise NotAdmitted(f"{computer} was revoked already.")
    record("computer-revoked", thing=None, by=by, happened=happened, because=f"{computer.name}; {because}")
    return computer


def digest_of(token: str) -> str:
    """What is kept of a token. It is 256 random bits: nobody can try them, so no slow hash is needed."""
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


def seen(computer: BenchComputer) -> None:
    """Note that it was here, once a minute."""
    before = timezone.now() - SEEN_EVERY
    due = BenchComputer.objects.filter(Q(last_used=None) | Q(last_used__lt=before), pk=computer.pk)
    if computer.last_used is None or computer.last_used < before:
        due.update(last_used=timezone.now())


def knocked(address: str) -> bool:
    """Count a wrong token from this address; True when there were too many in this stretch of time."""
    now = timezone.now()
    since = now - timedelta(seconds=now.timestamp() % STRETCH.total_seconds())
    row, _ = Knock.objects.get_or_create(address=address[:45], since=since.replace(microsecond=0))
    if row.count >= KNOCKS:
        return True  # counting on would only be work
    Knock.objects.filter(pk=row.pk).update(count=F("count") + 1)
    return False


def once(*, computer: BenchComputer, key: UUID | None, sent: Any, act: Callable[[], dict[str, Any]]) -> dict[str, Any]:
    """Do it once for each key of the sender; the second time gives the first answer. Raises AnotherContent."""
    if key is None:
        return act()
    content = hashlib.sha256(json.dumps(sent, sort_keys=True, default=str).encode()).hexdigest()
    try:
        with writing():
            row = Sent.objects.create(computer=computer, key=key, content=content)
            row.result = act()
            row.save(update_fields=["result"])
            return dict(row.result)
    except IntegrityError:
        earlier = Sent.objects.filter(computer=computer, key=key).first()
        if earlier is None:
            raise  # another constraint spoke
    if earlier.content != content:
        raise AnotherContent("This key was used before, for something else.", mend="Use a new key for each step.")
    return dict(earlier.result)


# --- spans in parts ---------------------------------------------------------------------------------------------------


def take_part(
    *, computer: BenchComputer, item: Item, key: UUID, number: int, data: bytes, kind: str, offset: int | None
) -> tuple[TransferPart, bool]:
    """Keep a part, whole; and whether it was new. The first one begins the transfer.

    The same part again is no fault. Raises AnotherContent for another content under its number, or another item under
    the key; NotWhole when the transfer is finished already and this part is none of it, or grows too large.
    """
    computer.actor.must(Right.EXAMINE)
    digest = vault.put(data)
    with writing():
        transfer, _ = Transfer.objects.get_or_create(computer=computer, key=key, defaults={"item": item})
        if transfer.item_id != item.pk:
            raise AnotherContent(
                f"The transfer of this key is of {transfer.item}.", mend="Use a new key for each item."
            )
        if earlier := transfer.parts.filter(number=number).first():
            _must_be_the_same(earlier, digest, kind)
            return earlier, False
        if transfer.upload_id:
            raise NotWhole("This transfer was finished without such a part.", mend="Use a new key for what is new.")
        if (transfer.parts.aggregate(sum=Sum("size"))["sum"] or 0) + len(data) > MOST_WHOLE:
            raise NotWhole(f"A transfer holds {MOST_WHOLE >> 20} MiB at most.", mend="Finish it, and begin another.")
        about = {"digest": digest, "size": len(data), "kind": kind, "offset": offset}
        return TransferPart.objects.create(transfer=transfer, number=number, **about), True


def _must_be_the_same(part: TransferPart, digest: str, kind: str) -> None:
    if (part.digest, part.kind) != (digest, kind):
        raise AnotherContent(
            f"{part} is there already, with other content.".capitalize(),
            why=f"What is there: {part.kind}, {part.size:,} bytes, SHA-256 {part.digest}.",
            mend="Send what was sent before, or begin a new transfer.",
        )


def finish(
    *, transfer: Transfer, parts: int, sha256: str, unit: Unit, about: Mapping[str, Any], happened: datetime
) -> tuple[CoverageUpload, bool]:
    """Make one upload of all parts; and whether that is new. Nothing is kept unless all of it can be read.

    Of a large one the worker works the coverage out, within a minute.

    ``about`` are ``name``, ``pass_number``, ``head``, ``verb`` and ``because`` of the upload. Raises NotWhole,
    AnotherContent when it was finished in another way, BadSpanFile, BadSpan, and what ``keep_upload`` raises.
    """
    said = json.dumps([parts, sha256, unit, about], sort_keys=True, default=str)
    finished_as = hashlib.sha256(said.encode()).hexdigest()
    if transfer.upload_id:
        return _finished(transfer, finished_as), False
    data, kind = _put_together(transfer, parts, sha256)
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


def _put_together(transfer: Transfer, count: int, sha256: str) -> tuple[bytes, str]:
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
    data = b"".join(vault.get(part.digest) for part in parts)
    if sha256 and hashlib.sha256(data).hexdigest() != sha256:
        raise NotWhole("The SHA-256 of all parts together is another.", mend="Look which part differs; send it anew.")
    return data, parts[0].kind


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


def tidy() -> int:
    """The worker's job: parts of finished and of forgotten transfers, and old knocks, go."""
    now = timezone.now()
    Knock.objects.filter(since__lt=now - timedelta(days=1)).delete()
    done = Q(transfer__upload__isnull=False, came__lt=now - UNUSED)
    old = TransferPart.objects.filter(done | Q(transfer__begun__lt=now - KEPT_UNFINISHED))
    gone = list(old.values_list("pk", "digest")[:2_000])
    TransferPart.objects.filter(pk__in=[pk for pk, _ in gone]).delete()
    for digest in {digest for _, digest in gone}:
        used = CoverageUpload.objects.filter(Q(file=digest) | Q(spans=digest)).exists()
        if not used and not TransferPart.objects.filter(digest=digest).exists():
            vault.remove(digest, unused_seconds=UNUSED.total_seconds())
    Transfer.objects.filter(upload=None, parts=None, begun__lt=now - KEPT_UNFINISHED).delete()
    return len(gone)
