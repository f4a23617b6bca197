"""Remembering people."""

from __future__ import annotations

from typing import Any

from labcases.people.models import Party


def remember(*, party: Party | None = None, **told: Any) -> Party:
    """A new party from what was told, or a known one with what is new filled in.

    Of a known party only what is told now and differs is changed; nothing known is emptied.
    """
    given = {name: value for name, value in told.items() if value}
    if party is None:
        return Party.objects.create(**given)
    changed = {name: value for name, value in given.items() if getattr(party, name) != value}
    for name, value in changed.items():
        setattr(party, name, value)
    if changed:
        party.save(update_fields=list(changed))
    return party
