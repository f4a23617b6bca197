"""Reads of the lab's own records: what is due, and what is overdue."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Count
from django.utils import timezone

from labcases.bench.records.models import Competence, LogLine, Mishap
from labcases.bench.stations.models import Equipment


@dataclass(frozen=True)
class Due:
    """What is to be done next on a machine."""

    what: str
    day: date

    @property
    def overdue(self) -> bool:
        return self.day < timezone.localdate()


@dataclass(frozen=True)
class EquipmentRow:
    equipment: Equipment
    ports: int
    dues: Sequence[Due]

    @property
    def due(self) -> date | None:
        return self.dues[0].day if self.dues else None

    @property
    def overdue(self) -> bool:
        return any(due.overdue for due in self.dues)


def equipment_rows() -> list[EquipmentRow]:
    """Everything in use, with what is due on it, soonest first; two queries."""
    dues = _dues()
    known = Equipment.objects.filter(retired=None).annotate(count=Count("ports"))
    return [EquipmentRow(one, one.count, dues.get(one.pk, [])) for one in known]


def _dues() -> dict[int, list[Due]]:
    """The next due day of each kind of line on each machine: the newest line of a kind says it."""
    newest: dict[tuple[int, str], LogLine] = {}
    for line in LogLine.objects.filter(equipment__retired=None).order_by("happened", "pk"):
        newest[line.equipment_id, line.what] = line
    found: dict[int, list[Due]] = {}
    for (pk, _), line in newest.items():
        if line.next_due:
            found.setdefault(pk, []).append(Due(line.get_what_display(), line.next_due))
    return {pk: sorted(dues, key=lambda due: due.day) for pk, dues in found.items()}


@dataclass(frozen=True)
class LabRecords:
    """The Bench's part: what is overdue, and what went wrong and is open."""

    overdue: Sequence[EquipmentRow]
    look_again: Sequence[Competence]
    mishaps: int


def front(request: Any) -> LabRecords:
    late = Competence.objects.filter(ended=None, look_again__lt=timezone.localdate()).select_related("person")
    open_mishaps = Mishap.objects.filter(closed=None).count()
    return LabRecords([row for row in equipment_rows() if row.overdue], list(late), open_mishaps)
