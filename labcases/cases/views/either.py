"""Verbs that either of two roles may do."""

from __future__ import annotations

from labcases.lab.models import Actor, Staff
from labcases.lab.roles import Right


def acting_in_either(person: Staff, *rights: Right) -> Actor:
    """The person in the role of the first right they hold. Raises NotAllowed when they hold none."""
    return person.acting(next((right for right in rights if right in person.rights), rights[0]))
