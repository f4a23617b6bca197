"""What the handover prints: the report, and the receipt that is signed with a pen. Called outside any transaction."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from labcases.bench.reading.papers import OnPaper, on_paper
from labcases.bench.reading.queries import read_of
from labcases.cases.models import Case, Item
from labcases.core import clock
from labcases.core.lists import csv_text
from labcases.custody.models import Thing
from labcases.handover import queries
from labcases.handover.models import Handover, HandoverLine
from labcases.handover.report import Custody
from labcases.lab.models import Actor, Profile
from labcases.paper.actions import freeze
from labcases.paper.models import Paper
from labcases.paper.papers import Attached, capped
from labcases.stock.models import Destination

LANGUAGE = "en-GB"
CUSTODY_FILE = "custody.csv"


def report(made: Handover, *, by: Actor, issued: datetime) -> Paper:
    """The frozen report of this handover; gathered and set only the first time."""
    key = queries.report_key(made)
    if earlier := Paper.objects.filter(key=key).first():
        return earlier
    said = queries.report_of(made, by=by)
    table = capped(said.custody, rest=f"the file {CUSTODY_FILE}, attached to this paper")
    return freeze(
        key=key,
        kind="handover-report",
        template="paper/handover_report.html",
        context={
            "report": said,
            "custody": table,
            "coverages": _coverages(made),
            "letterhead": made.case.letterhead,
        },
        title=f"Handover report {made.number}",
        language=LANGUAGE,
        size=Profile.current().paper_size,
        code=str(made.case),
        by=by,
        issued=issued,
        thing=made.case.thing,
        case_code=made.case.code,
        attachments=[Attached(CUSTODY_FILE, custody_file(said.custody), "The custody record, every line of it")],
    )


def _coverages(made: Handover) -> list[OnPaper]:
    """What was read of each item that left, where that is known: the picture and its table."""
    left = [line.thing_id for line in made.lines.all() if line.fate != HandoverLine.Fate.LATER]
    items = Item.objects.with_context().filter(case=made.case, thing__in=left).order_by("number")
    drawn = [on_paper(read_of(item), first_mark=f"h{item.number}", over=True) for item in items]
    return [one for one in drawn if one is not None]


def custody_file(lines: Sequence[Custody]) -> bytes:
    """The custody record as CSV, moments in RFC 3339."""
    head = ["event", "happened", "thing", "what", "from", "to", "why", "authority", "unavoidable change", "by", "role"]
    rows = (
        [line.sequence, clock.rfc3339(line.when), line.code, line.says, line.was, line.now, line.why, line.authority,
         line.change, line.by, line.role, line.digest]
        for line in lines
    )  # fmt: skip
    return csv_text([*head, "digest"], rows).encode()


def receipt(
    case: Case, due: Sequence[Thing], media: Sequence[Destination], *, by: Actor, issued: datetime
) -> tuple[Paper, bool]:
    """What is due back, to be counted and signed; and whether it was set just now."""
    rows = [_row(thing) for thing in due]
    carrying = [{"code": str(medium), "what": medium.medium_words} for medium in media]
    said = {"rows": rows, "media": carrying, "owner": case.owner.name, "bearer": case.bearer.name}
    digest = hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()
    key = f"handover-receipt/{case.code}/{digest[:16]}"
    if earlier := Paper.objects.filter(key=key).first():
        return earlier, False
    paper = freeze(
        key=key,
        kind="handover-receipt",
        template="paper/handover_receipt.html",
        context={**said, "case": case, "letterhead": case.letterhead},
        title="Receipt of handover",
        language=LANGUAGE,
        size=Profile.current().paper_size,
        code=str(case),
        by=by,
        issued=issued,
        thing=case.thing,
        case_code=case.code,
    )
    return paper, True


def _row(thing: Thing) -> dict[str, Any]:
    count = thing.accessory.count if thing.kind == Thing.Kind.ACCESSORY else 1
    serial = thing.item.serial if thing.kind in (Thing.Kind.PATIENT, Thing.Kind.CHIP) else ""
    return {"code": thing.printed_code, "what": thing.words, "count": count, "serial": serial}
