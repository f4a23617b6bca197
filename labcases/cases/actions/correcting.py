"""What was noted of an item is put right; the old value stays in the day-book."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from labcases.cases.models import Item
from labcases.core.text import folded_serial
from labcases.custody.actions import record, recorded
from labcases.custody.models import Thing
from labcases.lab.models import Actor
from labcases.lab.roles import Right

CORRECTABLE = (
    "kind", "kind_words", "maker", "model", "serial", "firmware", "interface", "sectors", "sector_bytes", "heads",
    "head_map", "head_offsets", "platters", "motor", "base_casting", "made", "plant", "board_number", "board_revision",
    "main_chip", "preamplifier", "flash_controller", "flash_ids", "channels", "bridge_number",
    "encryption_generation", "codes", "family", "slot", "recording", "marks", "behaviours", "label_codes", "note",
)  # fmt: skip


@recorded
def correct_item(*, item: Item, changes: dict[str, Any], by: Actor, happened: datetime, because: str = "") -> Item:
    """Change what was noted about an item; the old and the new value stand in the day-book."""
    if not (by.may(Right.TAKE_IN) or by.may(Right.EXAMINE)):
        by.must(Right.TAKE_IN)
    changed = {name: value for name, value in changes.items() if name in CORRECTABLE and getattr(item, name) != value}
    if not changed:
        return item
    was = "; ".join(f"{name} {_said(getattr(item, name))} → {_said(value)}" for name, value in changed.items())
    for name, value in changed.items():
        setattr(item, name, value)
    item.save(update_fields=list(changed))
    Thing.objects.filter(pk=item.thing_id).update(
        serial_folded=folded_serial(item.serial)[:100], words=item.medium_words[:300]
    )
    reason = f"{was} ({because})" if because else was
    record("intake-changed", thing=item.thing, by=by, happened=happened, because=reason, case=item.case.code)
    return item


def _said(value: Any) -> str:
    if isinstance(value, dict):
        value = [f"{name} {said}" for name, said in value.items()]
    if isinstance(value, list):
        value = ", ".join(value)
    return "not known" if value in (None, "") else str(value)
