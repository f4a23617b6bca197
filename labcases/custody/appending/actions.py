"""Appending to the ledger: its head locked first, bodies that hash each their predecessor, a tree, a signature.

``custody.record`` and the lots of ``custody.firsts`` come through here; nobody else has a reason to.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable, Mapping, Sequence
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import datetime
from functools import partial, wraps
from typing import Any, ParamSpec, TypeVar

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.conf import settings
from django.db import transaction

from labcases.core.actions import writing
from labcases.core.clock import rfc3339
from labcases.core.text import many_lines
from labcases.custody import chain, signing, tree
from labcases.custody.models import Event, EventText, Head, Thing, TreeNode, Whereabouts
from labcases.lab.models import Actor

P = ParamSpec("P")
R = TypeVar("R")

VERSION = 1
SALT_BYTES = 32
SEAL = re.compile(r"\S{1,60}")
_head: ContextVar[Head | None] = ContextVar("ledger_head", default=None)


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


def head_in_hand() -> Head:
    """The head that this transaction has locked. Raises RuntimeError outside a ``recorded`` action."""
    head = _head.get()
    if head is None:
        raise RuntimeError("custody.record is called inside an action marked @recorded.")
    return head


@dataclass
class Said:
    """One event before it stands in the ledger: its body without number and predecessor, and its words and salts."""

    body: dict[str, Any]
    texts: Mapping[str, str]
    salts: Mapping[str, bytes]


def said_of(
    kind: str, *, by: Actor, was: Whereabouts, now: Whereabouts, words: Mapping[str, str], **about: Any
) -> Said:
    """What an event says, ready for ``append_lot``; the caller brings the thing up to date."""
    return event_of(kind, by=by, was=was, now=now, texts=texts_of(by, was, now, **words), **about)


def event_of(
    kind: str,
    *,
    thing: Thing | None,
    case: str | None,
    by: Actor,
    happened: datetime,
    entered: datetime,
    was: Whereabouts,
    now: Whereabouts,
    texts: Mapping[str, str],
    seals: Sequence[str] = (),
    corrects: int | None = None,
) -> Said:
    if worded := [seal for seal in seals if not SEAL.fullmatch(seal)]:
        raise ValueError(f"{worded[0]!r} is no number of a seal: what stands in a body is never free text.")
    salts = {field: secrets.token_bytes(SALT_BYTES) for field in texts}
    body = {
        "version": VERSION,
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
    return Said(body, texts, salts)


def texts_of(by: Actor, was: Whereabouts, now: Whereabouts, **words: str) -> dict[str, str]:
    """The words and names that the ledger only commits to; empty ones are left out."""
    nowhere = Whereabouts()
    names = {"by": by.name, "from": "" if was == nowhere else str(was), "to": "" if now == nowhere else str(now)}
    return {field: text for field, text in ({k: many_lines(v) for k, v in words.items()} | names).items() if text}


def append_lot(lot: Sequence[Said], *, by: Actor, happened: datetime, entered: datetime) -> list[Event]:
    """Append events in their order; one signed head covers the lot. Call it inside a ``recorded`` action."""
    head = head_in_hand()
    sequence, digest, events = head.sequence, head.digest, []
    for one in lot:
        one.body |= {"sequence": sequence + 1, "previous": digest}
        event = _event(one.body, by=by, happened=happened, entered=entered)
        sequence, digest = event.sequence, event.digest
        events.append(event)
    Event.objects.bulk_create(events)
    _advance_head(head, events)
    EventText.objects.bulk_create(
        [
            EventText(sequence=event.sequence, field=name, salt=one.salts[name], text=text)
            for event, one in zip(events, lot, strict=True)
            for name, text in one.texts.items()
        ]
    )
    return events


def _event(body: Mapping[str, Any], *, by: Actor, **moments: datetime) -> Event:
    canonical = chain.canonical(body)
    return Event(
        sequence=body["sequence"],
        body=canonical,
        digest=chain.leaf_hash(canonical).hex(),
        kind=body["kind"],
        thing_code=body["thing"] or "",
        case_code=body["case"] or "",
        actor_ref=by.ref,
        role=by.role,
        corrects=body["corrects"],
        **moments,
    )


def _advance_head(head: Head, events: Sequence[Event]) -> None:
    """Grow the tree by these events' leaves and sign the new root."""
    peaks, nodes = [bytes.fromhex(peak) for peak in head.peaks], []
    for event in events:
        peaks, complete = tree.grown(event.sequence - 1, peaks, bytes.fromhex(event.digest))
        nodes += [TreeNode(level=level, index=index, digest=digest.hex()) for (level, index), digest in complete]
    TreeNode.objects.bulk_create(nodes)
    head.sequence, head.digest = events[-1].sequence, events[-1].digest
    head.peaks, head.root = [peak.hex() for peak in peaks], tree.root_of_peaks(peaks).hex()
    made = signing.sign(_key_of(head), size=head.sequence, root=head.root, signed=rfc3339(events[-1].entered))
    head.signed, head.signature, head.key = made.signed, made.signature, made.key
    head.save()
    transaction.on_commit(partial(signing.keep_beside_key, settings.KEY_DIR, made))


def _key_of(head: Head) -> Ed25519PrivateKey:
    """The lab's key. Raises KeyTrouble when it is not the one this ledger was begun with: nothing is recorded then."""
    key = signing.load_key(settings.KEY_DIR, supplied=settings.LEDGER_KEY, make=not head.key)
    if head.key and signing.public_hex(key) != head.key:
        raise signing.KeyTrouble("This signing key is not the one the ledger was begun with. Put the right one back.")
    return key
