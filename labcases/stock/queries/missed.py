"""How much a part would be missed by the other patients that wait for one of its kind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import numpy as np
from django.db.models import Exists

from labcases.cases.models import Item
from labcases.stock import allocation
from labcases.stock.matching import GRADES
from labcases.stock.models import DonorPart
from labcases.stock.queries.narrowing import not_known_to_differ
from labcases.stock.queries.ruling import RuleBooks
from labcases.stock.queries.waiting import WaitsFor
from labcases.stock.question import SERVES
from labcases.stock.rules import PartKind, Rule
from labcases.stock.table import judge_table

MOST_LOOKED_UP = 40  # patients with a single fit here, of whom the database is asked whether there is another
_SERVES = [GRADES.index(grade) for grade in SERVES]


@dataclass(frozen=True)
class Missed:
    """For each part by its key: how much it would be missed, and by whom, the most dependent first."""

    share: dict[int, float] = field(default_factory=dict)
    only_fit: dict[int, list[Item]] = field(default_factory=dict)
    also: dict[int, int] = field(default_factory=dict)


def missed_by_others(
    item: Item, kind: PartKind, parts: Sequence[tuple[int, Any]], *, waiting: Sequence[WaitsFor], books: RuleBooks,
    at: datetime,
) -> Missed:  # fmt: skip
    """Of the parts given as (key, traits): who else could use which, and for whom one of them is the only one.

    One query at most, whatever the number of patients and parts.
    """
    others = [one.item for one in waiting if one.kind is kind and one.item.pk != item.pk]
    fits = _fits(others, kind, parts, books)
    alone = [other for other in others if len(fits.get(other.pk, ())) == 1][:MOST_LOOKED_UP]
    elsewhere = _has_others(alone, kind, fits, books, at)
    fitting: dict[Any, list[Any]] = {
        pk: [*keys, ("elsewhere", pk)] if pk in elsewhere else keys for pk, keys in fits.items()
    }
    only: dict[int, list[Item]] = {}
    also: dict[int, int] = {}
    for other in others:
        keys = fitting.get(other.pk, [])
        for key in keys:
            if len(keys) == 1:
                only.setdefault(key, []).append(other)
            elif isinstance(key, int):
                also[key] = also.get(key, 0) + 1
    share: Any = allocation.missed(fitting)
    return Missed(share, only, also)


def _fits(
    others: Sequence[Item], kind: PartKind, parts: Sequence[tuple[int, Any]], books: RuleBooks
) -> dict[int, list[Any]]:
    """For each other patient the keys of the parts that may serve it."""
    by_rules: dict[tuple[Rule, ...], list[Item]] = {}
    for other in others:
        by_rules.setdefault(books.of(kind, other.family_id).rules, []).append(other)
    keys, traits = [key for key, _ in parts], [one for _, one in parts]
    found: dict[int, list[Any]] = {}
    for rules, patients in by_rules.items() if parts else ():
        table = judge_table([patient.traits() for patient in patients], traits, rules)
        for at in table.at[np.isin(table.grade, _SERVES)].tolist():
            row, column = divmod(at, len(keys))
            found.setdefault(patients[row].pk, []).append(keys[column])
    return found


def _has_others(
    patients: Sequence[Item], kind: PartKind, fits: dict[int, list[Any]], books: RuleBooks, at: datetime
) -> set[int]:
    """Of patients with one fit among the parts looked at, those for whom the database finds a further one."""
    if not patients:
        return set()
    free = DonorPart.objects.unreserved(at=at).filter(part=kind)
    asked: dict[str, Any] = {}
    for patient in patients:
        rules = books.of(kind, patient.family_id).rules
        asked[f"other_{patient.pk}"] = Exists(
            free.filter(not_known_to_differ(patient, rules)).exclude(pk=fits[patient.pk][0])
        )
    row: Any = DonorPart.objects.order_by().annotate(**asked).values(*asked).first()
    return {patient.pk for patient in patients if row and row[f"other_{patient.pk}"]}
