"""The verbs around tokens: admit and revoke a computer, note that it was here, do once what is sent twice."""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import IntegrityError
from django.db.models import F, Q
from django.utils import timezone

from labcases.api.models import BenchComputer, Knock, Sent
from labcases.core.actions import writing
from labcases.core.refused import Refused
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right

PREFIX = "labcases_"
SEEN_EVERY = timedelta(minutes=1)
STRETCH, KNOCKS = timedelta(minutes=10), 20


class AnotherContent(Refused):
    """The same key or number came with other content."""


class NotAdmitted(Refused):
    """A computer that was revoked already."""


@recorded
def admit(*, name: str, scopes: Sequence[str], by: Actor, happened: datetime) -> tuple[BenchComputer, str]:
    """Let a bench computer in; gives its token, which nothing here keeps."""
    by.must(Right.KEEP_LAB)
    token = PREFIX + secrets.token_urlsafe(32)
    made = BenchComputer.objects.create(
        name=name, digest=digest_of(token), begins=token[:12], scopes=sorted(scopes), **Entry.stamp(by, happened)
    )
    record("computer-admitted", thing=None, by=by, happened=happened, because=f"{name}: {', '.join(made.scopes)}")
    return made, token


@recorded
def revoke(*, computer: BenchComputer, because: str, by: Actor, happened: datetime) -> BenchComputer:
    """Shut a bench computer out, from now on. Raises NotAdmitted the second time."""
    by.must(Right.KEEP_LAB)
    if not BenchComputer.objects.admitted().filter(pk=computer.pk).update(revoked=timezone.now()):
        raise NotAdmitted(f"{computer} was revoked already.")
    record("computer-revoked", thing=None, by=by, happened=happened, because=f"{computer.name}; {because}")
    return computer


def digest_of(token: str) -> str:
    """What is kept of a token. It is 256 random bits: nobody can try them, so no slow hash is needed."""
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


def seen(computer: BenchComputer) -> None:
    """Note that it was here, once a minute."""
    before = timezone.now() - SEEN_EVERY
    due = BenchComputer.objects.filter(Q(last_used=None) | Q(last_used__lt=before), pk=computer.pk)
    if computer.last_used is None or computer.last_used < before:
        due.update(last_used=timezone.now())


def knocked(address: str) -> bool:
    """Count a wrong token from this address; True when there were too many in this stretch of time."""
    now = timezone.now()
    since = now - timedelta(seconds=now.timestamp() % STRETCH.total_seconds())
    row, _ = Knock.objects.get_or_create(address=address[:45], since=since.replace(microsecond=0))
    if row.count >= KNOCKS:
        return True  # counting on would only be work
    Knock.objects.filter(pk=row.pk).update(count=F("count") + 1)
    return False


def once(*, computer: BenchComputer, key: UUID | None, sent: Any, act: Callable[[], dict[str, Any]]) -> dict[str, Any]:
    """Do it once for each key of the sender; the second time gives the first answer. Raises AnotherContent."""
    if key is None:
        return act()
    content = hashlib.sha256(json.dumps(sent, sort_keys=True, default=str).encode()).hexdigest()
    try:
        with writing():
            row = Sent.objects.create(computer=computer, key=key, content=content)
            row.result = act()
            row.save(update_fields=["result"])
            return dict(row.result)
    except IntegrityError:
        earlier = Sent.objects.filter(computer=computer, key=key).first()
        if earlier is None:
            raise  # another constraint spoke
    if earlier.content != content:
        raise AnotherContent("This key was used before, for something else.", mend="Use a new key for each step.")
    return dict(earlier.result)
