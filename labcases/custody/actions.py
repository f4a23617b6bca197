"""Recording: the one door to the ledger, and the verbs that move things."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db.models import F
from django.utils import timezone

from labcases.core import codes
from labcases.core.refused import Refused
from labcases.core.text import folded_serial
from labcases.custody.appending.actions import append_lot, event_of, head_in_hand, texts_of
from labcases.custody.appending.actions import recorded as recorded  # every action takes it from here
from labcases.custody.breaks import actions as breaks
from labcases.custody.firsts.beginning import BROUGHT_IN, beginning_of
from labcases.custody.kinds import KINDS
from labcases.custody.models import Event, KeptHead, Series, Thing, Whereabouts
from labcases.custody.scanning.queries import both_confirm
from labcases.lab.models import Actor, Place, Staff
from labcases.lab.roles import Right


class NotThere(Refused):
    """The thing is not where this step needs it to be."""


class NotConfirmed(Refused):
    """A hand-over between people to which one side has not given its word."""


class StillHolds(Refused):
    """A place that things lie in."""


def record(
    kind: str,
    *,
    thing: Thing | None,
    by: Actor,
    happened: datetime,
    case: str | None = None,
    to: Whereabouts | Place | Staff | Any | None = None,
    because: str = "",
    authority: str = "",
    seals: Sequence[str] = (),
    change: str = "",
    corrects: int | None = None,
    was: Whereabouts | None = None,
    details: Mapping[str, str] | None = None,
) -> Event:
    """Append one event to the ledger and bring its thing up to date.

    ``to`` is where the thing is afterwards (unchanged when left out); *from* is where its last event left it, unless
    ``was`` says that it was found somewhere else: a gap in its line, which is shown. ``details`` are further words,
    those that the kind asks for (``kinds.py``). What does not fit is kept as a break of the line (``lines.py``).
    ``because``, ``authority`` and ``change`` (an unavoidable change, ISO/IEC 27037) are words: the body holds only
    their salted commitments, like the names of people. ``case`` is a case code. ``thing`` is None only for events of
    the lab itself. Raises ValueError for an unknown kind and RuntimeError outside a ``recorded`` action.
    """
    head_in_hand()
    if kind not in KINDS:
        raise ValueError(f"{kind!r} is no kind of event; add it to custody/kinds.py.")
    fresh = Thing.objects.with_whereabouts().get(pk=thing.pk) if thing else None  # the caller's copy may be older
    if fresh and kind != BROUGHT_IN:
        _begin_its_line(fresh)
    last = fresh.whereabouts if fresh else Whereabouts()
    was = was or last
    now = was if to is None else Whereabouts.of(to)
    words = {"because": because, "authority": authority, "change": change, "seals": ", ".join(seals)}
    texts = texts_of(by, was, now, **words, **_details(kind, details or {}))
    entered = timezone.now()
    about: dict[str, Any] = {"was": was, "now": now, "seals": seals, "corrects": corrects}
    said = event_of(kind, thing=thing, case=case, by=by, happened=happened, entered=entered, texts=texts, **about)
    event = append_lot([said], by=by, happened=happened, entered=entered)[0]
    if thing and fresh:
        _bring_up_to_date(thing, fresh, event, said.body, now, moved=now != last)
    return event


def _begin_its_line(thing: Thing) -> None:
    """Of a thing that came in with a batch, and has no event yet, how it came is recorded first."""
    if thing.last_event or not thing.batch_id or not (how := beginning_of(thing.batch_id)):
        return
    about: dict[str, Any] = {"by": how.by, "happened": how.happened, "because": how.because, "case": case_of(thing)}
    record("brought-in", thing=thing, was=Whereabouts(), to=thing.whereabouts, **about)


def _details(kind: str, words: Mapping[str, str]) -> dict[str, str]:
    """The further words of an event. Raises ValueError for one that its kind does not ask for."""
    if strange := set(words) - set(KINDS[kind].details):
        raise ValueError(f"An event {kind!r} has no {', '.join(sorted(strange))}; see custody/kinds.py.")
    return dict(words)


def record_many(kind: str, *, things: Sequence[Thing], **same: Any) -> list[Event]:
    """One event for each thing, in their order, all else alike (a shelf that is moved, a case that is sealed)."""
    return [record(kind, thing=thing, **same) for thing in things]


@recorded
def keep_head(*, because: str) -> KeptHead | None:
    """Keep the head as it stands now, for ever; None while the ledger is empty."""
    head = head_in_hand()
    if not head.sequence:
        return None
    fields = {name: getattr(head, name) for name in ("root", "signed", "signature", "key")}
    kept, _ = KeptHead.objects.get_or_create(size=head.sequence, defaults={**fields, "because": because})
    return kept


def _bring_up_to_date(
    thing: Thing, fresh: Thing, event: Event, body: Mapping[str, Any], now: Whereabouts, *, moved: bool
) -> None:
    breaks.judge_append(fresh, body, event)
    fresh.last_event = event.sequence
    fresh.place, fresh.staff, fresh.party, fresh.gone = now.place, now.staff, now.party, now.gone
    if moved:
        fresh.last_moved = event.happened
    changed = ["last_event", "place", "staff", "party", "gone", "last_moved", *breaks.KEPT]
    fresh.save(update_fields=changed)
    for name in changed:
        setattr(thing, name, getattr(fresh, name))


def mint(series: str) -> int:
    """The next number of a series of codes. Call it inside a ``recorded`` action."""
    Series.objects.get_or_create(name=series)
    Series.objects.filter(name=series).update(last=F("last") + 1)
    return Series.objects.get(name=series).last


def new_thing(body: str, *, kind: Thing.Kind, words: str, serial: str = "", at: Any | None = None) -> Thing:
    """A thing under the code of ``body`` (its check character is added). Its first event comes from the caller."""
    where = Whereabouts.of(at) if at is not None else Whereabouts()
    return Thing.objects.create(
        code=codes.with_check(body),
        kind=kind,
        words=words[:300],
        serial_folded=folded_serial(serial)[:100],
        place=where.place,
        staff=where.staff,
        party=where.party,
    )


@recorded
def add_place(*, name: str, kind: str, by: Actor, happened: datetime, in_use: bool = True) -> Place:
    """A place of the lab, with a code that can be scanned."""
    by.must(Right.KEEP_LAB)
    code = codes.with_check(codes.stock_body("S", mint("S")))
    made = Place.objects.create(name=name, kind=kind, code=code, in_use=in_use)
    record("lab-changed", thing=None, by=by, happened=happened, because=f"place {made.name} added")
    return made


@recorded
def change_place(*, place: Place, name: str, kind: str, in_use: bool, by: Actor, happened: datetime) -> Place:
    """Rename a place or take it out of use. Raises StillHolds while things lie there."""
    by.must(Right.KEEP_LAB)
    if not in_use and place.things.exists():
        raise StillHolds(f"Things lie in {place}.", mend="Move them first, then take the place out of use.")
    was, place.name, place.kind, place.in_use = place.name, name, kind, in_use
    place.save(update_fields=["name", "kind", "in_use"])
    record("lab-changed", thing=None, by=by, happened=happened, because=f"place {was} is {name}, {kind}")
    return place


@recorded
def move(
    *,
    thing: Thing,
    to: Place | Staff,
    by: Actor,
    happened: datetime,
    because: str = "",
    case: str | None = None,
    confirmed: str = "",
) -> Event:
    """Put a thing in a place of the lab, or hand it to a colleague.

    ``confirmed`` says how the other side confirmed, where the lab asks for both. Raises NotThere when the thing is not
    in the lab, and NotConfirmed.
    """
    by.must(Right.MOVE)
    fresh = Thing.objects.with_whereabouts().get(pk=thing.pk)
    if fresh.place is None and fresh.staff is None:
        raise NotThere(
            f"{fresh} is not in the lab.",
            why=f"The ledger says it is with: {fresh.whereabouts}.",
            mend="Receive it at the counter first.",
        )
    if isinstance(to, Place):
        return record(
            _kind_of_move(fresh, to), thing=fresh, by=by, happened=happened, to=to, because=because, case=case
        )
    if not confirmed:
        _must_concern_nobody_else(fresh, to, by)
    details = {"confirmed": confirmed}
    return record(
        "handed-to", thing=fresh, by=by, happened=happened, to=to, because=because, case=case, details=details
    )


def _must_concern_nobody_else(thing: Thing, to: Staff, by: Actor) -> None:
    """Raises NotConfirmed where the lab asks for both sides and a second one is concerned."""
    if not both_confirm():
        return
    if by.staff != to:
        raise NotConfirmed(f"{to} has not confirmed to take {thing}.", mend=f"Let {to} confirm it with a PIN.")
    if thing.staff not in (None, to):
        raise NotConfirmed(
            f"{thing} is in the hands of {thing.staff}.",
            mend=f"Let {thing.staff} hand it over; then you confirm.",
        )


AT_WORK = (Place.Kind.BENCH, Place.Kind.CLEAN_BENCH)


def _kind_of_move(thing: Thing, to: Place) -> str:
    """What people call it: onto a bench it is taken into work, from there to a shelf it is put back."""
    if to.kind in AT_WORK:
        return "taken-into-work"
    came_from_work = thing.place is not None and thing.place.kind in AT_WORK
    return "put-back" if came_from_work else "moved"


@recorded
def move_all(
    *,
    things: Sequence[Thing],
    to: Place | Staff,
    by: Actor,
    happened: datetime,
    because: str = "",
    confirmed: str = "",
) -> list[Event]:
    """Move several things in one go: all of them or, when one is not in the lab, none."""
    same: dict[str, Any] = {"to": to, "by": by, "happened": happened, "because": because, "confirmed": confirmed}
    return [move(thing=thing, case=case_of(thing), **same) for thing in things]


def case_of(thing: Thing) -> str | None:
    """The folded code of the case that a thing came in with, read from its own code; None for stock."""
    body = codes.case_body_of(thing.code)
    return codes.with_check(body) if body else None


def mint_many(series: str, count: int) -> range:
    """The next so many numbers of a series of codes. Call it inside a ``recorded`` action."""
    Series.objects.get_or_create(name=series)
    Series.objects.filter(name=series).update(last=F("last") + count)
    last = Series.objects.get(name=series).last
    return range(last - count + 1, last + 1)
