"""Uploads of spans and what follows from them.

An upload is **prepared** outside any transaction (parsing a million rows takes a second: ``prepare`` puts the bytes and
the spans into the vault and touches no table), then **kept** (``keep_upload``, rows and one event), and then the item's
coverage is **worked out** anew (``derive``, outside any transaction again). Killed in between, nothing is lost: the
worker works out what lags behind (``derive_waiting``).

    said = spantable.read_table(columns, how, total=item.sectors)
    ready = prepare(said, data=body, name="pass 2", source="station")
    keep_upload(item=item, ready=ready, pass_number=2, by=actor, happened=now)
    derive(item)
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.db.models import F, Max
from django.utils import timezone

from labcases.bench.coverage import STATES, Coverage
from labcases.bench.reading import laid
from labcases.bench.reading.models import CoverageUpload, CoverageWithdrawal, Derivation, ItemCoverage, PlanVersion
from labcases.bench.spans import BadSpan
from labcases.bench.spantable import Said
from labcases.bench.stored import pack, pack_columns, unpack, unpack_columns
from labcases.cases.models import Item
from labcases.cases.readings.actions import must_be_the_right_item
from labcases.core import vault
from labcases.core.actions import writing
from labcases.core.refused import Refused
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right

TRIES = 5
TIDIED_AFTER = timedelta(hours=1)


class NoSize(Refused):
    """Nobody knows how many sectors the item has."""


class UploadedBefore(Refused):
    """These very bytes stand already. ``upload`` is the one they came as."""

    def __init__(self, upload: CoverageUpload) -> None:
        super().__init__(
            f"These very bytes stand already as upload {upload.number}.",
            mend="Withdraw that one first if they are to be laid over what came since.",
        )
        self.upload = upload


class Withdrawn(Refused):
    """An upload that was taken back already."""


@dataclass(frozen=True)
class Ready:
    """An upload whose bytes and spans lie in the vault; no table knows of it yet."""

    file: str
    size: int
    spans: str
    rows: int
    name: str
    source: str
    notes: Sequence[str] = ()
    signature: str = ""
    how: Mapping[str, Any] = field(default_factory=dict)


def size_of(item: Item) -> int:
    """How many sectors the item has. Raises NoSize when nobody has noted it."""
    if not item.sectors:
        raise NoSize(
            f"Nobody has noted how many sectors {item} has.",
            mend="Read who it is, or correct the intake: without its size no span can be checked.",
        )
    return int(item.sectors)


def prepare(
    said: Said, *, data: bytes, name: str, source: str, signature: str = "", how: Mapping[str, Any] | None = None
) -> Ready:
    """Put the bytes as they came and the spans they gave into the vault. ``data`` is kept as evidence, unchanged."""
    columns: dict[str, Any] = {"first": said.firsts, "sectors": said.sectors, "state": said.codes}
    if said.delays is not None:
        columns["delay"] = said.delays
    return Ready(
        file=vault.put(data),
        size=len(data),
        spans=vault.put(pack_columns(columns)),
        rows=int(said.firsts.size),
        name=name,
        source=source,
        notes=said.notes,
        signature=signature,
        how=dict(how or {}),
    )


@recorded
def keep_upload(
    *,
    item: Item,
    ready: Ready,
    by: Actor,
    happened: datetime,
    pass_number: int = 1,
    head: int | None = None,
    verb: str = "overlay",
    because: str = "",
) -> CoverageUpload:
    """Keep an upload; call ``derive`` after its transaction. ``verb`` is "overlay", or "withdraw" with a reason.

    Raises NotAllowed, WrongItem, NoSize, and UploadedBefore for spans that stand already.
    """
    by.must(Right.EXAMINE)
    must_be_the_right_item(item)
    size_of(item)
    if same := _same(item, ready, verb, pass_number, head):
        raise UploadedBefore(same)
    number = (CoverageUpload.objects.filter(item=item).aggregate(last=Max("number"))["last"] or 0) + 1
    made = CoverageUpload.objects.create(
        item=item, number=number, verb=verb, pass_number=pass_number, head=head, because=because,
        file=ready.file, size=ready.size, spans=ready.spans, rows=ready.rows, name=ready.name, source=ready.source,
        notes=list(ready.notes), signature=ready.signature, how=dict(ready.how), **Entry.stamp(by, happened),
    )  # fmt: skip
    _raise_version(item)
    record("coverage-kept", thing=item.thing, by=by, happened=happened, because=_words(made), case=item.case.code)
    return made


def _same(item: Item, ready: Ready, verb: str, pass_number: int, head: int | None) -> CoverageUpload | None:
    """A table that stands already, what was entered by hand just before, or what a bench computer sent of this pass
    and head: under another key, or from another computer, it would lie over what came since."""
    standing = CoverageUpload.objects.standing().filter(item=item)
    if ready.source == CoverageUpload.Source.TABLE:
        return standing.filter(file=ready.file, verb=verb).first()
    if ready.source == CoverageUpload.Source.STATION:
        return standing.filter(file=ready.file, verb=verb, pass_number=pass_number, head=head).first()
    last = standing.last() if ready.source == CoverageUpload.Source.HAND else None
    return last if last and (last.file, last.verb) == (ready.file, verb) else None


def _words(upload: CoverageUpload) -> str:
    what = "taken back" if upload.verb == CoverageUpload.Verb.WITHDRAW else f"pass {upload.pass_number}"
    head = "" if upload.head is None else f", head {upload.head}"
    spans = "1 span" if upload.rows == 1 else f"{upload.rows:,} spans"
    why = f"; {upload.because}" if upload.because else ""
    return f"upload {upload.number}, {what}{head}, {spans}, sha-256 {upload.file}{why}"


def _raise_version(item: Item) -> None:
    ItemCoverage.objects.get_or_create(item=item)
    ItemCoverage.objects.filter(item=item).update(version=F("version") + 1)


@recorded
def withdraw_upload(*, upload: CoverageUpload, because: str, by: Actor, happened: datetime) -> CoverageUpload:
    """Take an upload back as a whole; its bytes stay. Call ``derive`` afterwards. Raises Withdrawn the second time."""
    by.must(Right.EXAMINE)
    if CoverageWithdrawal.objects.filter(upload=upload).exists():
        raise Withdrawn(f"Upload {upload.number} was withdrawn already.")
    CoverageWithdrawal.objects.create(upload=upload, because=because, **Entry.stamp(by, happened))
    _raise_version(upload.item)
    said = f"upload {upload.number}; {because}"
    item = upload.item
    record("coverage-withdrawn", thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)
    return upload


def derive(item: Item, *, anew: bool = False) -> ItemCoverage | None:
    """Work out the item's coverage from its standing uploads; None when it has none and never had.

    What is new at the end is laid over the last coverage; a late entry, a withdrawal or ``anew`` begins from nothing.
    An upload that does not fit the medium (its size was corrected since) is said in ``trouble``, and the older
    coverage stands. Safe to run twice and by two at once: whoever holds the newest version wins.
    """
    for _ in range(TRIES):
        state = ItemCoverage.objects.select_related("derivation").filter(item=item).first()
        if state is None:
            return None
        uploads = list(CoverageUpload.objects.standing().filter(item=item))
        try:
            made = _derived(item, uploads, None if anew else state.derivation)
        except BadSpan as wrong:
            ItemCoverage.objects.filter(pk=state.pk).update(trouble=str(wrong))
            break
        with writing():
            made.save()
            won = ItemCoverage.objects.filter(pk=state.pk, version=state.version).update(
                derived=state.version, derivation=made, trouble=""
            )
        if won:
            break
    return ItemCoverage.objects.select_related("derivation").get(item=item)


def _derived(item: Item, uploads: Sequence[CoverageUpload], last: Derivation | None) -> Derivation:
    """The coverage of these uploads, packed and put away; not yet a row."""
    total = size_of(item)
    numbers = [upload.number for upload in uploads]
    coverage, rest = _begin(last, uploads, total)
    for upload in rest:
        coverage = _laid_over(coverage, upload)
    counts = coverage.counts()
    return Derivation(
        item=item, digest=vault.put(pack(coverage)), uploads=laid.short(numbers), total_sectors=total,
        runs=int(coverage.starts.size), **{state: counts[state] for state in STATES},
    )  # fmt: skip


def _begin(
    last: Derivation | None, uploads: Sequence[CoverageUpload], total: int
) -> tuple[Coverage, Sequence[CoverageUpload]]:
    """The last coverage and what came after it, if that is all that changed; else nothing and everything."""
    if last is not None and last.total_sectors == total:
        held = laid.numbers(last.uploads)
        if [upload.number for upload in uploads[: len(held)]] == held:
            try:
                return unpack(vault.get(last.digest)), uploads[len(held) :]
            except (FileNotFoundError, vault.Damaged):
                pass  # it can be worked out again
    return Coverage.from_rows(total), uploads


def _laid_over(coverage: Coverage, upload: CoverageUpload) -> Coverage:
    columns = unpack_columns(vault.get(upload.spans))
    rows = [columns["first"], columns["sectors"], columns["state"]]
    try:
        return coverage.withdraw(rows) if upload.verb == CoverageUpload.Verb.WITHDRAW else coverage.overlay(rows)
    except BadSpan as wrong:
        raise BadSpan(f"Upload {upload.number} does not fit the medium any more. {wrong}") from wrong


def derive_waiting() -> int:
    """The worker's job: coverages that lag behind their uploads (a web process was killed in between)."""
    waiting = ItemCoverage.objects.filter(derived__lt=F("version"), trouble="").select_related("item")
    return sum(1 for state in waiting[:20] if derive(state.item))


def tidy() -> int:
    """The worker's job: coverages that were overtaken and that no plan was made from; they can be worked out again."""
    held = ItemCoverage.objects.exclude(derivation=None).values("derivation")
    planned = PlanVersion.objects.exclude(derivation=None).values("derivation")
    old = Derivation.objects.filter(made__lt=timezone.now() - TIDIED_AFTER).exclude(pk__in=held).exclude(pk__in=planned)
    gone = list(old.values_list("pk", "digest")[:500])
    Derivation.objects.filter(pk__in=[pk for pk, _ in gone]).delete()
    for digest in {digest for _, digest in gone}:
        if not Derivation.objects.filter(digest=digest).exists():
            vault.remove(digest, unused_seconds=TIDIED_AFTER.total_seconds())
    return len(gone)
