"""The purchase list, to take along where parts are bought. Called outside any transaction."""

from __future__ import annotations

import hashlib
import json
from datetime import datetime
from typing import Any

from labcases.core.units import counted
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Profile
from labcases.lab.roles import Right
from labcases.paper.actions import freeze
from labcases.paper.models import Paper
from labcases.stock.actions.refusals import NotNow
from labcases.stock.queries.buying import Wanted, to_be_bought
from labcases.stock.wiping.papers import LANGUAGE

KIND, TITLE, TEMPLATE = "purchase-list", "Purchase list", "paper/purchase_list.html"


def print_purchase_list(*, by: Actor, issued: datetime) -> Paper:
    """What is to be bought now. While nothing of it changes, it is the same paper again.

    It names patients by their codes and no customer: it is shown to those who sell. Raises NotNow when nothing is to
    be bought, or what ``paper.actions.freeze`` raises.
    """
    by.must(Right.KEEP_STOCK)
    listed = [_entry(one) for one in to_be_bought()]
    if not listed:
        raise NotNow("Nothing is to be bought.", mend="Put a part on the list from the match page of a patient.")
    digest = hashlib.sha256(json.dumps(listed, sort_keys=True).encode()).hexdigest()[:16]
    key = f"{KIND}/{digest}"
    if earlier := Paper.objects.filter(key=key).first():
        return earlier
    paper = freeze(
        key=key,
        kind=KIND,
        template=TEMPLATE,
        context={"listed": listed},
        title=TITLE,
        language=LANGUAGE,
        size=Profile.current().paper_size,
        code="",
        by=by,
        issued=issued,
    )
    _note(len(listed), by=by, happened=issued)
    return paper


def _entry(one: Wanted) -> dict[str, Any]:
    need = one.need
    return {
        "need": need.pk,
        "part": need.part.capitalize() if need.part.islower() else need.part,
        "patient": str(need.item),
        "words": need.item.medium_words,
        "family": str(need.item.family or ""),
        "sold_as": ", ".join(one.sold_as),
        "lines": one.lines,
        "note": need.note,
        "wrong": need.because if need.state == need.State.WRONG else "",
    }


@recorded
def _note(count: int, *, by: Actor, happened: datetime) -> None:
    record("paper-printed", thing=None, by=by, happened=happened, because=f"{TITLE}, {counted(count, 'part')}")
