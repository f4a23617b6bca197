"""Remembering people."""

from __future__ import annotations

from typing import Any

from labcases.core.refused import Refused
from labcases.lab.models import Actor
from labcases.lab.roles import Right
from labcases.people import queries
from labcases.people.models import Party


class HasBecomeAnother(Refused):
    """The record went into another one."""


def remember(*, party: Party | None = None, **told: Any) -> Party:
    """A new party from what was told, or a known one with what is new filled in.

    Of a known party only what is told now and differs is changed; nothing known is emptied. Of a record that went
    into another it is that other one which is meant.
    """
    given = {name: value for name, value in told.items() if value}
    if party is None:
        made: Party = Party.objects.create(**given)
        return made
    party = queries.standing(party)
    changed = {name: value for name, value in given.items() if getattr(party, name) != value}
    return _changed(party, changed)


def correct(*, party: Party, by: Actor, **values: Any) -> Party:
    """Put right what is known of a party; here a field may also be emptied.

    Whether somebody is billed monthly is for those to say who may waive money.
    """
    by.must(Right.TAKE_IN)
    if (now := queries.standing(party)) != party:
        raise HasBecomeAnother(f"This record has gone into that of {now}.", mend="Correct that one.")
    changed = {name: value for name, value in values.items() if getattr(party, name) != value}
    if "on_account" in changed:
        by.must(Right.WAIVE)
    return _changed(party, changed)


def _changed(party: Party, changed: dict[str, Any]) -> Party:
    for name, value in changed.items():
        setattr(party, name, value)
    if changed:
        party.save(update_fields=list(changed))
    return party
