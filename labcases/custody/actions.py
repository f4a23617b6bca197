"""Recording: the one door to the ledger, and the verbs that move things."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping, Sequence
from contextvars import ContextVar
from datetime import datetime
from functools import partial, wraps
from typing import Any, ParamSpec, TypeVar

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.conf import settings
from django.db import transaction
from django.db.models import F
from django.utils import timezone

from labcases.core import codes
from labcases.core.actions import writing
from labcases.core.clock import rfc3339
from labcases.core.refused import Refused
from labcases.core.text import folded_serial, many_lines
from labcases.custody import chain, signing, tree
from labcases.custody.breaks import actions as breaks
from labcases.custody.kinds import KINDS
from labcases.custody.models import Event, EventText, Head, KeptHead, Series, Thing, TreeNode, Whereabouts
from labcases.custody.scanning.queries import both_confirm
from labcases.lab.models import Actor, Place, Staff
from labcases.lab.roles import Right

P = ParamSpec("P")
R = TypeVar("R")

VERSION = 1
SALT_BYTES = 32
_head: ContextVar[Head | None] = ContextVar("ledger_head", default=None)


class NotThere(Refused):
    """The thing is not where this step needs it to be."""


class NotConfirmed(Refused):
    """A hand-over between people to which one side has not given its word."""


class StillHolds(Refused):
    """A place that things lie in."""


def recorded(action: Callable[P, R]) -> Callable[P, R]:
    """Mark an action: one transaction, with the ledger's head row locked before anything else.

    An action that calls another shares its transaction and its lock.
    """

    @wraps(action)
    def run(*args: P.args, **kwargs: P.kwargs) -> R:
        if _head.get() is not None:
            return action(*args, **kwargs)
        with writing():
            token = _head.set(_locked_head())
            try:
                return action(*args, **kwargs)
            finally:
                _head.reset(token)

    return run


def _locked_head() -> Head:
    Head.objects.get_or_create(pk=1)
    return Head.objects.select_for_update().get(pk=1)


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
    head = _head.get()
    if head is None:
        raise RuntimeError("custody.record is called inside an action marked @recorded.")
    if kind not in KINDS:
        raise ValueError(f"{kind!r} is no kind of event; add it to custody/kinds.py.")
    fresh = Thing.objects.with_whereabouts().get(pk=thing.pk) if thing else None  # the caller's copy may be older
    last = fresh.whereabouts if fresh else Whereabouts()
    was = was or last
    now = was if to is None else Whereabouts.of(to)
    words = {"because": because, "authority": authority, "change": change, "seals": ", ".join(seals)}
    texts = _texts(by, was, now, **words, **_details(kind, details or {}))
    salts = {field: secrets.token_bytes(SALT_BYTES) for field in texts}
    entered = timezone.now()
    body = {
        "version": VERSION,
        "sequence": head.sequence + 1,
        "previous": head.digest,
        "kind": kind,
        "thing": thing.code if thing else None,
        "case": case,
        "happened": rfc3339(happened),
        "entered": rfc3339(entered),
        "by": by.ref or None,
        "role": str(by.role),
        "from": was.refs(),
        "to": now.refs(),
        "seals": list(seals),
        "corrects": corrects,
        "commitments": {field: chain.commitment(salts[field], field, text) for field, text in texts.items()},
    }
    event = _append(head, body, kind=kind, thing=thing, case=case, by=by, happened=happened, entered=entered)
    EventText.objects.bulk_create(
        [EventText(sequence=event.sequence, field=name, salt=salts[name], text=text) for name, text in texts.items()]
    )
    if thing and fresh:
        _bring_up_to_date(thing, fresh, event, body, now, moved=now != last)
    return event


def _details(kind: str, words: Mapping[str, str]) -> dict[str, str]:
    """The further words of an event. Raises ValueError for one that its kind does not ask for."""
    if strange := set(words) - set(KINDS[kind].details):
        raise ValueError(f"An event {kind!r} has no {', '.join(sorted(strange))}; see custody/kinds.py.")
    return dict(words)


def record_many(kind: str, *, things: Sequence[Thing], **same: Any) -> list[Event]:
    """One event for each thing, in their order, all else alike (a shelf that is moved, a case that is sealed)."""
    return [record(kind, thing=thing, **same) for thing in things]


def _texts(by: Actor, was: Whereabouts, now: Whereabouts, **words: str) -> dict[str, str]:
    """The words and names that the ledger only commits to; empty ones are left out."""
    nowhere = Whereabouts()
    names = {"by": by.name, "from": "" if was == nowhere else str(was), "to": "" if now == nowhere else str(now)}
    return {field: text for field, text in ({k: many_lines(v) for k, v in words.items()} | names).items() if text}


def _append(
    head: Head, body: dict[str, Any], *, thing: Thing | None, by: Actor, case: str | None, **columns: Any
) -> Event:
    canonical = chain.canonical(body)
    event = Event.objects.create(
        sequence=body["sequence"],
        body=canonical,
        digest=chain.leaf_hash(canonical).hex(),
        thing_code=thing.code if thing else "",
        case_code=case or "",
        actor_ref=by.ref,
        role=by.role,
        corrects=body["corrects"],
        **columns,
    )
    _advance_head(head, event)
    return event


def _advance_head(head: Head, event: Event) -> None:
    """Grow the tree by this event's leaf and sign the new root."""
    old = [bytes.fromhex(peak) for peak in head.peaks]
    peaks, complete = tree.grown(head.sequence, old, bytes.fromhex(event.digest))
    TreeNode.objects.bulk_create(
        [TreeNode(level=level, index=index, digest=digest.hex()) for (level, index), digest in complete]
    )
    head.sequence, head.digest = event.sequence, event.digest
    head.peaks, head.root = [peak.hex() for peak in peaks], tree.root_of_peaks(peaks).hex()
    made = signing.sign(_key_of(head), size=head.sequence, root=head.root, signed=rfc3339(event.entered))
    head.signed, head.signature, head.key = made.signed, made.signature, made.key
    head.save()
    transaction.on_commit(partial(signing.keep_beside_key, settings.KEY_DIR, made))


def _key_of(head: Head) -> Ed25519PrivateKey:
    """The lab's key. Raises KeyTrouble when it is not the one this ledger was begun with: nothing is recorded then."""
    key = signing.load_key(settings.KEY_DIR, supplied=settings.LEDGER_KEY, make=not head.key)
    if head.key and signing.public_hex(key) != head.key:
        raise signing.KeyTrouble("This signing key is not the one the ledger was begun with. Put the right one back.")
    return key


@recorded
def keep_head(*, because: str) -> KeptHead | None:
    """Keep the head as it stands now, for ever; None while the ledger is empty."""
    head = _head.get()
    if head is None or not head.sequence:
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
