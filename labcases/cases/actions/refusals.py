"""What the verbs of the counter refuse by name."""

from __future__ import annotations

from labcases.core.refused import Refused


class NotYet(Refused):
    """A stage that may not be entered now; the reasons say what is missing and what lifts it."""


class SomeoneWasFaster(Refused):
    """The record was changed between looking and pressing."""


class NothingToTakeIn(Refused):
    """An intake without an item."""


class OwnerIsKnown(Refused):
    """The case has an owner already."""
