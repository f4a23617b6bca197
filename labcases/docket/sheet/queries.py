"""What the bench sheet shows, and the version number by which a page knows that nothing changed."""

from __future__ import annotations

import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Max

from labcases.bench.presence.models import Presence
from labcases.bench.stations.models import Session
from labcases.custody.models import Event, Head
from labcases.docket.queries import ItemStep, bench_sheet
from labcases.lab.models import Staff


@dataclass(frozen=True)
class SheetRow:
    """One patient: its next safe step, when anything last happened to its case, who has it open, where it runs."""

    entry: ItemStep
    last: datetime | None
    here: Sequence[str]
    session: Session | None


@dataclass(frozen=True)
class BenchSheet:
    """The rows of the Bench, whose they are, and as of which version."""

    rows: Sequence[SheetRow]
    mine_only: bool
    version: str


def sheet_for(request: Any) -> BenchSheet:
    """The Bench's front part: ``?whose=mine`` keeps the cases this person works on."""
    mine = request.GET.get("whose") == "mine"
    version = version_for(request.user)  # before the rows: what changes in between is asked for again
    entries = bench_sheet(request.user, mine_only=mine)
    last, here, running = _last_events(entries), _others(request.user), _running()
    rows = [
        SheetRow(
            entry,
            last.get(entry.item.case.code),
            here.get(entry.item.case_id, []),
            running.get(entry.item.pk),
        )
        for entry in entries
    ]
    return BenchSheet(rows, mine, version)


def version_for(person: Staff) -> str:
    """Changes when anything is recorded, or when somebody else opens or leaves a docket; two cheap queries."""
    head = Head.objects.filter(pk=1).values_list("sequence", flat=True).first() or 0
    there = Presence.objects.fresh().exclude(person=person).order_by("pk").values_list("person", "case")
    return f"{head}-{zlib.crc32(repr(list(there)).encode()):08x}"


def _last_events(entries: Sequence[ItemStep]) -> dict[str, datetime]:
    codes = {entry.item.case.code for entry in entries}
    rows = Event.objects.filter(case_code__in=codes).order_by().values_list("case_code")
    return dict(rows.annotate(last=Max("happened")))


def _others(person: Staff) -> Mapping[int, list[str]]:
    found: dict[int, list[str]] = {}
    for one in Presence.objects.fresh().exclude(person=person).select_related("person").order_by("person__name"):
        found.setdefault(one.case_id, []).append(one.person.name)
    return found


def _running() -> dict[int, Session]:
    return {session.item_id: session for session in Session.objects.running().select_related("port__equipment")}
