"""The custody statement: the events of one case, and what anybody needs to check them. Called outside a transaction."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from labcases.core import clock, codes
from labcases.core.refused import Refused
from labcases.custody import queries
from labcases.custody.actions import keep_head
from labcases.custody.models import Event, EventText, Thing
from labcases.custody.signing import SignedHead
from labcases.custody.verifier.check_statement import FORM
from labcases.lab.models import Actor, Profile
from labcases.lab.roles import Right
from labcases.paper.actions import freeze
from labcases.paper.models import Paper
from labcases.paper.papers import Attached, capped

TITLE, LANGUAGE, FILE = "Custody statement", "en-GB", "custody-statement.json"


class NothingToState(Refused):
    """A statement about a case of which nothing is recorded."""


def print_statement(docket: Thing, *, by: Actor, issued: datetime) -> Paper:
    """The statement of the case of this docket. While nothing more happens to it, it is the same paper again.

    The head that it carries is kept for ever: whoever holds the paper is a witness. Raises NothingToState, or what
    ``paper.actions.freeze`` raises.
    """
    by.must(Right.TELL)
    events = queries.events_of_case(docket.code)
    if not events:
        raise NothingToState(f"Nothing of case {docket} is recorded yet.", mend="Take something in first.")
    texts = queries.texts_of(events)
    key = f"custody-statement/{docket.code}/{_digest(events, texts)}"
    if earlier := Paper.objects.filter(key=key).first():
        return earlier
    kept = keep_head(because="custody statement")
    if kept is None:
        raise NothingToState("The ledger is empty.")
    head = kept.as_signed()
    said = statement(docket, events, texts, head, issued=issued)
    return freeze(
        key=key,
        kind="custody-statement",
        template="paper/custody_statement.html",
        context={
            "head": head,
            "custody": capped(queries.entries(events), rest=f"the file {FILE}, attached to this paper"),
            "docket": docket,
            "file": FILE,
        },
        title=TITLE,
        language=LANGUAGE,
        size=Profile.current().paper_size,
        code=str(docket),
        by=by,
        issued=issued,
        thing=docket,
        case_code=docket.code,
        attachments=[Attached(FILE, said, "The events, their proofs and the signed head, to be checked by a program")],
    )


def _digest(events: Sequence[Event], texts: dict[int, list[EventText]]) -> str:
    """Changes with each further event, and when a text is erased."""
    said = [[event.digest, sorted(text.field for text in texts.get(event.sequence, []))] for event in events]
    return hashlib.sha256(json.dumps(said).encode()).hexdigest()[:16]


def statement(
    docket: Thing, events: Sequence[Event], texts: dict[int, list[EventText]], head: SignedHead, *, issued: datetime
) -> bytes:
    """What ``check_statement.py`` reads: JSON with bodies as they were hashed, texts and salts, proofs and the head."""
    proofs = queries.prove_many([event.sequence for event in events], head.size)
    said: dict[str, Any] = {
        "form": FORM,
        "case": docket.code,
        "printed": codes.printed(docket.code),
        "made": clock.rfc3339(issued),
        "head": head.as_record(),
        "events": [
            {
                "sequence": event.sequence,
                "body": bytes(event.body).decode(),
                "texts": {
                    t.field: {"salt": bytes(t.salt).hex(), "text": t.text} for t in texts.get(event.sequence, [])
                },
                "proof": proofs[event.sequence],
            }
            for event in events
        ],
    }
    return json.dumps(said, ensure_ascii=False, indent=1).encode()
