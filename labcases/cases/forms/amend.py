"""Buttons of the take-in page that change what is typed and take nothing in: another item, a known customer.

Each gives the typed form anew, as if the clerk had typed it so. They work as a page, and as a fragment through htmx.
"""

from __future__ import annotations

import re
from typing import Any

from django.http import QueryDict

from labcases.cases.forms.item import MOST_ITEMS
from labcases.people.forms import CONTACT, typed_from
from labcases.people.models import Party

TOTAL = "item-TOTAL_FORMS"
ROLES = ("owner", "bearer", "payer")
_OF_ITEM = re.compile(r"item-(\d+)-(.+)", re.ASCII)


def amended(sent: QueryDict, country: str) -> QueryDict | None:
    """What is typed after the button that was pressed; None when it was none of these buttons.

    ``look`` is the button that Enter presses where there are no scripts: it only shows the page again.
    """
    typed = sent.copy()
    if "add" in sent:
        typed[TOTAL] = str(min(_total(typed) + 1, MOST_ITEMS))
    elif (gone := sent.get("remove", "")).isdecimal():
        _take_out(typed, int(gone[:4]))
    elif role := _pressed(sent, "take_"):
        _take(typed, role, str(sent[f"take_{role}"]), country)
    elif role := _pressed(sent, "leave_"):
        _fill(typed, role, dict.fromkeys(("known", *CONTACT), ""))
    elif "look" not in sent and not _pressed(sent, "find_"):
        return None
    return typed


def _pressed(sent: QueryDict, button: str) -> str:
    return next((role for role in ROLES if f"{button}{role}" in sent), "")


def looked_for(sent: QueryDict) -> dict[str, str]:
    """For whom a list of known customers was asked without scripts, by role: what is typed there."""
    role = _pressed(sent, "find_")
    return {role: sent.get(f"{role}-phone") or sent.get(f"{role}-name") or ""} if role else {}


def _total(typed: QueryDict) -> int:
    text = typed.get(TOTAL, "")
    return int(text[:4]) if text.isdecimal() else 1


def _take_out(typed: QueryDict, gone: int) -> None:
    """Drop one item; those behind it move up. The last one that is left is only emptied."""
    total = _total(typed)
    found = [(int(match[1][:4]), match[2], match[0]) for name in typed if (match := _OF_ITEM.fullmatch(name))]
    for number, field, name in sorted(found):
        values = typed.pop(name)
        if number != gone:
            typed.setlist(f"item-{number - (number > gone)}-{field}", values)
    typed[TOTAL] = str(max(total - (gone < total), 1))


def _take(typed: QueryDict, role: str, pk: str, country: str) -> None:
    known = Party.objects.select_related("merged_into")
    party = known.filter(pk=pk).first() if pk.isdecimal() and len(pk) < 18 else None
    if party:
        _fill(typed, role, typed_from(party.stands_as, country))


def _fill(typed: QueryDict, role: str, values: dict[str, Any]) -> None:
    for name, value in values.items():
        typed[f"{role}-{name}"] = str(value)
