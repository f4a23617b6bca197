"""What the newest readings say about items: facts, in two queries however many items."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

from labcases.cases.models import Item
from labcases.cases.readings import comparing
from labcases.cases.readings.models import Reading
from labcases.cases.secrecy.models import CaseSecret


def facts(items: Sequence[Item]) -> Mapping[int, Mapping[str, Any]]:
    """The facts of identity: the newest reading counts; a stop stands until it is lifted."""
    by_key = {item.pk: item for item in items}
    known: dict[int, dict[str, Any]] = {pk: {} for pk in by_key}
    for reading in Reading.objects.filter(item__in=by_key).order_by("pk"):
        key = reading.item_id or 0
        item, before = by_key[key], known[key]
        noted = {name: getattr(item, name) for name in comparing.NAMES}
        lines = comparing.compare(noted, reading.said, whole=reading.whole, answers=reading.answers)
        stops = reading.wrong_item and reading.lifted is None
        known[key] = {
            "identified": True,
            "locked": reading.locked,
            "differs": tuple(line.label.lower() for line in comparing.open_lines(lines)),
            "wrong_item": before.get("wrong_item", False) or stops,
        }
    with_secret = set(CaseSecret.objects.standing().filter(case__items__in=by_key).values_list("case", flat=True))
    for pk, item in by_key.items():
        known[pk]["secret_kept"] = item.case_id in with_secret
    return known


def attach_readings(forms: Sequence[Any], *, draft: UUID) -> None:
    """Give each item form on the take-in page what its medium said, beside what is typed; one query for all."""
    keys = [form.noted().get("reading") for form in forms]
    found = {row.pk: row for row in Reading.objects.filter(draft=draft)} if any(keys) else {}
    for form, key in zip(forms, keys, strict=True):
        if read := found.get(key):
            form.read, form.lines = read, comparing.compare(form.noted(), read.said, whole=read.whole)
