"""What can come in from a table. Each room registers its kinds when it starts; the way is the same for all.

A kind judges rows in lots and writes rows in lots, with a fixed number of questions to the database for each lot, so
that a hundred thousand rows take their time without keeping anybody waiting.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from labcases.core.importing import Fate, Field


@dataclass(frozen=True)
class Said:
    """A row that could be read: its number in the table, and what it says by field."""

    number: int
    values: dict[str, Any]


@dataclass(frozen=True)
class Judged:
    """What becomes of a row.

    ``key`` is what no other row of the table may have (a folded serial). ``target`` is the row of the lab that it
    speaks of, ``seen`` its last event, ``changes`` what would be changed. ``ready`` is what a new row is made of.
    """

    number: int
    fate: Fate
    because: str = ""
    key: str = ""
    target: int | None = None
    seen: int = 0
    changes: dict[str, Any] = field(default_factory=dict)
    ready: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Kind:
    """One kind of table: its columns, who may bring it, and the functions that do the work.

    ``judge(batch, rows)`` gives a verdict for each row. ``write(batch, judged, by, happened)`` makes new rows, which
    belong to the batch and so are not shown. ``change(target, changes, seen, by, happened)`` corrects one row as a
    clerk would and gives what stood there before and its new last event; both are plain JSON.
    ``last_events(targets)`` gives code and last event of such rows. ``used(batch)`` says in sentences what was used
    since. ``clear(batch, most)`` removes up to so many rows of a batch and says how many went. ``things(batch)`` are
    those that want labels. ``shown(batch)`` is called once everybody sees the batch, outside any lock.
    """

    key: str
    title: str
    unit: str
    place: str
    right: Any
    fields: Sequence[Field]
    lead: str
    shown_at: str
    judge: Callable[[int | None, Sequence[Said]], list[Judged]]
    write: Callable[[int, Sequence[Judged], Any, Any], None]
    used: Callable[[int], list[str]]
    clear: Callable[[int, int], int]
    key_words: str = "The same"
    change: Callable[[int, dict[str, Any], int, Any, Any], tuple[dict[str, Any], int]] | None = None
    last_events: Callable[[Sequence[int]], dict[int, tuple[str, int]]] | None = None
    things: Callable[[int], Any] | None = None
    shown: Callable[[int], None] | None = None

    @property
    def has_labels(self) -> bool:
        """Whether labels are printed for what comes in."""
        return self.things is not None


KINDS: dict[str, Kind] = {}


def add(kind: Kind) -> None:
    """Make a kind known."""
    KINDS[kind.key] = kind
