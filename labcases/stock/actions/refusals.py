"""How the stockroom says no."""

from __future__ import annotations

from labcases.core.refused import Refused


class PartTaken(Refused):
    """Somebody was faster, or the part is no longer free."""


class NotAMatch(Refused):
    """A must-match differs and nobody who may has lifted the stop."""


class PartReserved(PartTaken):
    """It is kept for another patient until a time."""


class AskedFirst(Refused):
    """Something must be answered, on record, before this is done."""


class DestinationTaken(Refused):
    """Somebody was faster, or the medium is no longer free."""


class DoesNotFit(Refused):
    """Too small, or not clean for this case."""


class NotNow(Refused):
    """The medium or part is in a state that does not allow this step."""


class Changed(Refused):
    """Somebody else changed it after this page was opened."""


class SerialTwice(Refused):
    """The same serial is listed twice in one series."""
