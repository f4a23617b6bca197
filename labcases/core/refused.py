"""One way to say no: what was refused, why, and how to put it right."""

from __future__ import annotations

from collections.abc import Sequence


class Refused(Exception):
    """A verb that may not be done now. Rooms name their own subclasses (``PartTaken``, ``NotAMatch`` …).

    ``what`` is one sentence for a person, ``why`` the reasons behind it, ``mend`` what to do instead.
    ``status`` is the HTTP status when the refusal reaches a page of its own.
    """

    status = 409

    def __init__(self, what: str, *, why: str | Sequence[str] = (), mend: str = "") -> None:
        super().__init__(what)
        self.what = what
        self.why: tuple[str, ...] = (why,) if isinstance(why, str) else tuple(why)
        self.mend = mend

    def sentences(self) -> list[str]:
        """Everything there is to say, one sentence an entry."""
        return [text for text in (self.what, *self.why, self.mend) if text]


class NotAllowed(Refused):
    """This person does not hold a role that may do this."""

    status = 403
