"""Reads about wipes and health: how far a wipe is, what waits for one, what a certificate says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.http import Http404
from django.utils import timezone

from labcases.lab.models import Profile, Staff
from labcases.stock.models import Destination, Wipe
from labcases.stock.wiping import terms
from labcases.stock.wiping.actions import lasted

SHOWN = 20


def wipe_for(pk: int) -> Wipe:
    """One wipe with all that its page prints. 404 with a sentence when there is none."""
    found = Wipe.objects.with_context().filter(pk=pk).first()
    if found is None:
        raise Http404(f"There is no wipe {pk}.")
    return found


@dataclass(frozen=True)
class Run:
    """How far a wipe is, by the clock."""

    wipe: Wipe
    since: str
    minutes: int
    total: int | None
    left: str
    late: str

    @classmethod
    def of(cls, wipe: Wipe, now: datetime) -> Run:
        end = wipe.expected_end
        late = lasted(end, now) if end and now > end else ""
        left = lasted(now, end) if end and now <= end else ""
        total = max(_minutes(wipe.happened, end), 1) if end else None
        done = min(_minutes(wipe.happened, now), total or 2**31)
        return cls(wipe, lasted(wipe.happened, now), max(done, 0), total, left, late)


def _minutes(begin: datetime, end: datetime) -> int:
    return int((end - begin).total_seconds() // 60)


@dataclass(frozen=True)
class Going:
    """What runs, what waits to be verified, and how many media wait for a wipe."""

    running: list[Run]
    ended: list[Wipe]
    waiting: int


def going_on(request: Any) -> Going:
    """The part of the Stockroom, in two queries."""
    rows, now = list(Wipe.objects.with_context().going().order_by("expected_end", "pk")[: 2 * SHOWN]), timezone.now()
    return Going(
        running=[Run.of(row, now) for row in rows if row.state == Wipe.State.RUNNING],
        ended=[row for row in rows if row.state == Wipe.State.ENDED],
        waiting=Destination.objects.waiting_for_a_wipe().count(),
    )


Pairs = Sequence[tuple[str, Any]]


@dataclass(frozen=True)
class Certificate:
    """All fields that NIST SP 800-88 Rev. 1 s.4.8 asks of a certificate of sanitisation, in its order."""

    standard: str
    medium: Pairs
    sanitisation: Pairs
    done: Pairs
    verified: Pairs
    done_by: str
    verified_by: str


def certificate(wipe: Wipe, told: dict[str, str]) -> Certificate:
    """What the certificate of a verified wipe says; ``told`` are the fields of the form (blank: what is usual)."""
    lab, medium = Profile.current(), wipe.destination
    where = told.get("location") or lab.address or f"at {lab.name}"
    contact = told.get("contact") or " · ".join(part for part in (lab.phone, lab.email) if part) or lab.name
    gone = wipe.method == Wipe.Method.DESTROY
    stays = "destroyed; its remains go to recycling" if gone else "stays in the stock of the lab"
    source = f"the lab’s own; held data of case {wipe.case}" if wipe.case else "the lab’s own; held no case’s data"
    return Certificate(
        standard=wipe.standard,
        medium=[
            ("Manufacturer", medium.maker),
            ("Model", medium.model),
            ("Serial", medium.serial),
            ("Property number", str(medium)),
            ("Media type", f"{terms.media_type(medium.kind)} ({medium.get_kind_display()})"),
            ("Media source", source),
            ("Confidentiality before", told.get("category_before") or "not categorised"),
            ("Data backed up", told.get("backed_up") or "not stated"),
        ],
        sanitisation=[
            ("Clear, purge or destroy", wipe.get_method_display()),
            ("Method", wipe.technique or "as the tool does it"),
            ("Tool and version", wipe.tool),
            ("Verification", wipe.how_verified + (f", with {wipe.verified_with}" if wipe.verified_with else "")),
            ("Confidentiality after", told.get("category_after") or "not categorised"),
            ("Destination", told.get("destination") or stays),
        ],
        done=who(wipe.by, wipe.role, wipe.ended or wipe.happened, where, contact, begun=wipe.happened),
        verified=who(wipe.verified_by, wipe.verified_role, wipe.verified_at, where, contact),
        done_by=str(wipe.by or ""),
        verified_by=str(wipe.verified_by or ""),
    )


def who(by: Staff | None, role: str, when: Any, where: str, contact: str, *, begun: Any = None) -> Pairs:
    local = timezone.localtime(when)
    date = f"{local:%d %B %Y, %H:%M}".lstrip("0")
    if begun and begun != when:
        date = f"{timezone.localtime(begun):%d %B %Y, %H:%M} to ".lstrip("0") + date
    return [("Name", str(by or "")), ("Title", role), ("Date", date), ("Location", where), ("Contact", contact)]
