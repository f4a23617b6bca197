"""Reads of the stations: what runs where, and what ran when the power went."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from labcases.bench.stations.models import Port, Session


@dataclass(frozen=True)
class PortRow:
    """A port and what runs on it now, if anything does."""

    port: Port
    session: Session | None


def ports() -> list[PortRow]:
    """Every port of the machines in use, in two queries."""
    running = {session.port_id: session for session in Session.objects.running().with_context()}
    known = Port.objects.filter(equipment__retired=None).select_related("equipment")
    return [PortRow(port, running.get(port.pk)) for port in known]


@dataclass(frozen=True)
class Running:
    """The Bench's part: what runs now, the longest running first, and how many ports are free."""

    sessions: Sequence[Session]
    free: int
    ports: int


def front(request: Any) -> Running:
    rows = ports()
    sessions = sorted((row.session for row in rows if row.session), key=lambda session: session.happened)
    return Running(sessions, len(rows) - len(sessions), len(rows))


def ran_at(moment: datetime) -> list[Session]:
    """What had power at that moment, by machine and port."""
    return list(Session.objects.running_at(moment).with_context().order_by("port__equipment__name", "port_id"))
