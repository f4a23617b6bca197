"""The verbs of touching a thing: each notes one touch that matters, with why and on whose authority."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from labcases.core.refused import NotAllowed, Refused
from labcases.custody.actions import NotThere, case_of, record, recorded
from labcases.custody.models import Event, Thing, Whereabouts
from labcases.lab.models import Actor, Place
from labcases.lab.roles import Right


class NotNow(Refused):
    """This cannot be said of the thing as it stands."""


def _fresh(thing: Thing) -> Thing:
    return Thing.objects.with_whereabouts().get(pk=thing.pk)


def _here(thing: Thing, happened: datetime) -> Thing:
    """The thing as it stands. Raises NotThere when it was not in the lab then; noting late is no fault."""
    fresh = _fresh(thing)
    away = fresh.place is None and fresh.staff is None
    if away and not (fresh.last_moved and happened < fresh.last_moved):
        raise NotThere(
            f"{fresh} is not in the lab.",
            why=f"The ledger says it is with: {fresh.whereabouts}.",
            mend="Take it in first, or say an earlier time, when it was here.",
        )
    return fresh


# --- seals ----------------------------------------------------------------------------------------------------------


@recorded
def seal(*, thing: Thing, seals: Sequence[str], by: Actor, happened: datetime, because: str = "") -> Event:
    """Put seals on a thing, by their numbers. Raises NotThere."""
    by.must(Right.MOVE)
    fresh = _here(thing, happened)
    return record("sealed", thing=fresh, by=by, happened=happened, because=because, seals=seals, case=case_of(fresh))


@recorded
def break_seal(
    *, thing: Thing, seals: Sequence[str], because: str, by: Actor, happened: datetime, authority: str = ""
) -> Event:
    """Break seals. A number that nobody put on record is a break of the line: it is said, not refused."""
    by.must(Right.MOVE)
    fresh = _here(thing, happened)
    return record(
        "seal-broken", thing=fresh, by=by, happened=happened, because=because, authority=authority, seals=seals,
        case=case_of(fresh),
    )  # fmt: skip


# --- at the bench ---------------------------------------------------------------------------------------------------


@recorded
def begin_power(
    *, thing: Thing, station: str, by: Actor, happened: datetime, port: str = "", because: str = ""
) -> Event:
    """A power session begins at this station and port. One session, one pair of events, however often it is clicked."""
    by.must(Right.EXAMINE)
    fresh = _here(thing, happened)
    if fresh.is_powered:
        raise NotNow(f"A power session of {fresh} has begun and not ended.", mend="End that one first.")
    details = {"station": station, "port": port}
    return record(
        "power-begun", thing=fresh, by=by, happened=happened, because=because, details=details, case=case_of(fresh)
    )


@recorded
def end_power(*, thing: Thing, by: Actor, happened: datetime, because: str = "", change: str = "") -> Event:
    """The power session is over; ``because`` says how it went."""
    by.must(Right.EXAMINE)
    fresh = _here(thing, happened)
    if not fresh.is_powered:
        raise NotNow(f"No power session of {fresh} has begun.", mend="Note its beginning first, with its time.")
    return record(
        "power-ended", thing=fresh, by=by, happened=happened, because=because, change=change, case=case_of(fresh)
    )


@recorded
def note_opened(
    *,
    thing: Thing,
    because: str,
    by: Actor,
    happened: datetime,
    station: str = "",
    authority: str = "",
    change: str = "",
) -> Event:
    """It was opened in clean air."""
    by.must(Right.EXAMINE)
    fresh = _here(thing, happened)
    return record(
        "opened", thing=fresh, by=by, happened=happened, because=because, authority=authority, change=change,
        details={"station": station}, case=case_of(fresh),
    )  # fmt: skip


@recorded
def fit_part(
    *, thing: Thing, part: Thing, because: str, by: Actor, happened: datetime, authority: str = "", change: str = ""
) -> list[Event]:
    """A part goes into a patient: the lines of both say so, and the part is from then on where the patient is."""
    return _both("part-fitted", thing, part, because, by, happened, authority, change, to=None)


@recorded
def remove_part(
    *,
    thing: Thing,
    part: Thing,
    because: str,
    by: Actor,
    happened: datetime,
    to: Place | None = None,
    authority: str = "",
    change: str = "",
) -> list[Event]:
    """A part comes out of a patient, and goes to a place; it stays beside the patient unless one is named."""
    return _both("part-removed", thing, part, because, by, happened, authority, change, to=to)


def _both(
    kind: str, thing: Thing, part: Thing, because: str, by: Actor, happened: datetime, authority: str, change: str,
    *, to: Place | None,
) -> list[Event]:  # fmt: skip
    by.must(Right.EXAMINE)
    patient, piece = _here(thing, happened), _here(part, happened)
    if patient.pk == piece.pk:
        raise NotNow("A thing is no part of itself.", mend="Scan the part's own label.")
    said: dict[str, Any] = {
        "by": by,
        "happened": happened,
        "because": because,
        "authority": authority,
        "details": {"part": f"{piece.words} {piece}", "patient": f"{patient.words} {patient}"},
        "case": case_of(patient),
    }
    beside = Whereabouts.of(to) if to else patient.whereabouts
    return [record(kind, thing=patient, change=change, **said), record(kind, thing=piece, to=beside, **said)]


@recorded
def note_read(
    *, thing: Thing, because: str, by: Actor, happened: datetime, station: str = "", port: str = "", change: str = ""
) -> Event:
    """It was read: what of it, and at which station."""
    by.must(Right.EXAMINE)
    fresh = _here(thing, happened)
    details = {"station": station, "port": port}
    return record(
        "read", thing=fresh, by=by, happened=happened, because=because, change=change, details=details,
        case=case_of(fresh),
    )  # fmt: skip


@recorded
def note_written(
    *,
    thing: Thing,
    before: str,
    after: str,
    because: str,
    authority: str,
    change: str,
    by: Actor,
    happened: datetime,
) -> Event:
    """Firmware or ROM was written: the files before and after by their SHA-256, why, and on whose authority."""
    by.must(Right.EXAMINE)
    if not (because and authority and change and before):
        raise NotNow(
            "Writing firmware or a ROM is noted with the file before it, why, on whose authority, and what it changed.",
            mend="Fill in what is missing.",
        )
    fresh = _here(thing, happened)
    return record(
        "written", thing=fresh, by=by, happened=happened, because=because, authority=authority, change=change,
        details={"before": before, "after": after}, case=case_of(fresh),
    )  # fmt: skip


# --- out of the house, and back -------------------------------------------------------------------------------------


@recorded
def ship(
    *,
    thing: Thing,
    party: Any,
    carrier: str,
    by: Actor,
    happened: datetime,
    tracking: str = "",
    seals: Sequence[str] = (),
    because: str = "",
    authority: str = "",
) -> Event:
    """Send a thing to somebody outside, sealed and with its parcel's number. Raises NotThere."""
    by.must(Right.HAND_OVER)
    fresh = _here(thing, happened)
    return record(
        "shipped", thing=fresh, by=by, happened=happened, to=Whereabouts(party=party), because=because,
        authority=authority, seals=seals, details={"carrier": carrier, "tracking": tracking}, case=case_of(fresh),
    )  # fmt: skip


@recorded
def confirm_delivery(*, thing: Thing, receiver: str, by: Actor, happened: datetime, because: str = "") -> Event:
    """Who has it says that it came. Raises NotNow when the thing never left."""
    by.must(Right.MOVE)
    fresh = _fresh(thing)
    if fresh.party is None:
        raise NotNow(f"{fresh} is with nobody outside.", mend="Note first that it was sent.")
    return record(
        "delivered", thing=fresh, by=by, happened=happened, because=because, details={"receiver": receiver},
        case=_case_it_left_with(fresh),
    )  # fmt: skip


def _case_it_left_with(thing: Thing) -> str | None:
    """The case in its own code; of a medium from stock, the one that it was sent out for."""
    sent = Event.objects.filter(thing_code=thing.code, kind__in=("shipped", "handed-over")).order_by("-sequence")
    return case_of(thing) or sent.values_list("case_code", flat=True).first() or None


@recorded
def take_back(*, thing: Thing, to: Place, because: str, by: Actor, happened: datetime) -> Event:
    """A thing comes back from outside. Raises NotNow when it is here."""
    by.must(Right.MOVE)
    fresh = _fresh(thing)
    if fresh.party is None or fresh.gone:
        raise NotNow(f"{fresh} is not outside: {fresh.whereabouts}.", mend="Move it instead.")
    case = _case_it_left_with(fresh)
    return record("returned", thing=fresh, by=by, happened=happened, to=to, because=because, case=case)


@recorded
def destroy(
    *, thing: Thing, method: str, because: str, authority: str, by: Actor, happened: datetime, witness: str = ""
) -> Event:
    """The thing is destroyed, and how; it is nowhere from then on. Raises NotThere."""
    by.must(Right.KEEP_STOCK)
    fresh = _here(thing, happened)
    return record(
        "destroyed", thing=fresh, by=by, happened=happened, to=Whereabouts(gone=True), because=because,
        authority=authority, details={"method": method, "witness": witness}, case=case_of(fresh),
    )  # fmt: skip


# --- corrections ----------------------------------------------------------------------------------------------------


@recorded
def correct(
    *, event: Event, because: str, by: Actor, happened: datetime, to: Whereabouts | Place | None = None
) -> Event:
    """Correct an event by a new one that points at it, in words; ``to`` says where the thing really is.

    A manager's correction also answers the breaks that show at that event. Of several corrections of one event the
    newest counts. Raises NotAllowed for somebody else's event without that right.
    """
    by.must(Right.CORRECT)
    if not (by.may(Right.CORRECT_ANY) or event.actor_ref == by.ref):
        raise NotAllowed(
            "This was recorded by somebody else.",
            why="Everybody corrects what they recorded themselves; a manager corrects everything.",
            mend="Ask them, or a manager.",
        )
    thing = Thing.objects.with_whereabouts().filter(code=event.thing_code).first()
    return record(
        "corrected", thing=thing, by=by, happened=happened, because=because, to=to if thing else None,
        corrects=event.sequence, case=event.case_code or None,
    )  # fmt: skip
