"""Doing a thing once, however often the button is pressed; keeping which column was which."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction

from labcases.core import importing, turns
from labcases.core.models import ColumnLayout, OneTimeKey
from labcases.core.refused import Refused


class SentBefore(Refused):
    """The same form was already sent, with other content."""


@contextmanager
def writing() -> Iterator[None]:
    """A transaction that is going to write. On SQLite its beginning waits in line (``core.turns``)."""
    connection = transaction.get_connection()
    with ExitStack() as stack:
        if connection.vendor == "sqlite" and not connection.in_atomic_block:
            stack.enter_context(turns.turn())
        stack.enter_context(transaction.atomic())
        yield


def fingerprint(sent: Any, *, leave_out: Iterable[str] = ()) -> str:
    """SHA-256 of a form's content (a QueryDict), without what differs from press to press, and without ``leave_out``:
    a short secret could be guessed from its hash.
    """
    left_out = {"once", "csrfmiddlewaretoken", *leave_out}
    pairs = sorted((name, values) for name, values in sent.lists() if name not in left_out)
    return hashlib.sha256(repr(pairs).encode()).hexdigest()


def result_of(*, key: UUID, person: Any, verb: str, content: str) -> str:
    """The address of what this very press made before; empty when it made nothing yet."""
    made = OneTimeKey.objects.filter(key=key, person=person, verb=verb, content=content).values_list(
        "result", flat=True
    )
    return str(made.first() or "")


def once(*, key: UUID, person: Any, verb: str, content: str, act: Callable[[], str]) -> str:
    """Run ``act`` and return the address of its result; a second press returns the first one's address.

    The key is inserted first, in the transaction that also holds the act: of two presses at once the slower
    waits, then finds the key. Raises SentBefore when the same key comes with other content.
    """
    try:
        with writing():
            row = OneTimeKey.objects.create(key=key, person=person, verb=verb, content=content, result="")
            result = act()
            OneTimeKey.objects.filter(pk=row.pk).update(result=result)
            return result
    except IntegrityError:
        earlier = OneTimeKey.objects.filter(key=key, person=person, verb=verb).first()
        if earlier is None:
            raise  # another constraint spoke: not a double press
    if earlier.content != content:
        raise SentBefore(
            "This form was already sent, with other content.",
            why="It was sent twice, and what stands here now differs from what was recorded.",
            mend="Open the record it made and correct it there, or start with a fresh form.",
        )
    return str(earlier.result)


def remember(purpose: str, headers: Sequence[str], mapping: Mapping[str, int]) -> ColumnLayout:
    """Keep which column is which field for the next table with these headers (``core.queries.remembered``)."""
    kept, _ = ColumnLayout.objects.update_or_create(
        purpose=purpose, signature=importing.signature(headers), defaults={"mapping": dict(mapping)}
    )
    return kept
