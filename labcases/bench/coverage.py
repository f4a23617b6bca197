"""What has been read of a medium: every sector has one state, kept as runs.

The states, from the weakest word to the strongest::

    unreached < left_out < skipped < unreadable < doubtful < read

A **batch** is the rows of one upload, one table or one pass. Where rows of a batch overlap, the strongest word stands:

>>> first = Coverage.from_rows(1_000, [(0, 600, "read"), (500, 200, "skipped"), (650, 1, "unreadable")])
>>> first.spans("read"), first.spans("skipped"), first.spans("unreadable")
([(0, 600)], [(600, 50), (651, 49)], [(650, 1)])

A batch laid over what is known wins, with two exceptions: `unreached` overwrites nothing, and a sector that was `read`
stays so unless the newer batch calls it `doubtful`:

>>> second = first.overlay([(590, 60, "unreadable"), (650, 10, "read"), (100, 5, "doubtful"), (0, 1_000, "unreached")])
>>> second.spans("unreadable"), second.spans("read"), second.spans("doubtful")
([(600, 50)], [(0, 100), (105, 495), (650, 10)], [(100, 5)])

A withdrawal takes back all that is known of its sectors, whatever state its rows name: they are `unreached` again.
An upload is withdrawn as a whole by deriving the coverage anew without it (``derive``).

>>> second.withdraw([(105, 495, "read")]).count("read")
110
>>> first.overlay([(0, 9, "skipped")]) == first  # nothing changed, and nothing ever changes in place
True

**How.** Runs are two columns: where each begins (the first at 0, sorted) and its state; neighbours differ. To lay a
batch on them: (1) per state, the union of the batch's spans (see ``spans``); (2) put all boundaries in one list, each
with a byte to toggle — bits 0 to 4 say "inside a span of that state", bits 5 to 7 hold the old state; (3) sort by
place, XOR along the list, keep the last byte at each place; (4) look the new state up in a table of 256 entries, which
is the rule above written out once; (5) drop boundaries between equal states. All whole-column steps: n log n.
Counting uses, per state, its spans and their running total: two binary searches a span.

**Shares** are exact fractions and percentages are floored, so that an incomplete medium never shows 100 %:

>>> nearly = Coverage.from_rows(10**10, [(0, 10**10 - 1, "read")])
>>> nearly.share("read", [(0, 10**10)]) == 1, percent(nearly.count("read"), 10**10)
(False, '99.99')
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from labcases.bench.spans import BadSpan, Batch, Codes, Ints, Rows, Span, read_batch, read_spans, total_of, union

__all__ = ["CODES", "STATES", "BadSpan", "Coverage", "derive", "percent"]

Scalar = TypeVar("Scalar", bound=np.generic)
STATES = ("unreached", "left_out", "skipped", "unreadable", "doubtful", "read")  # weakest first: the place is the code
CODES = {state: code for code, state in enumerate(STATES)}
UNREACHED, DOUBTFUL, READ = CODES["unreached"], CODES["doubtful"], CODES["read"]


def _after_overlay(old: int, said: int) -> int:
    """The new state of a sector: ``said`` has bit ``code - 1`` set for each state the batch gives it."""
    strongest = said.bit_length()
    if strongest == UNREACHED:
        return old
    return old if old == READ and strongest != DOUBTFUL else strongest


def _after_withdrawal(old: int, said: int) -> int:
    return UNREACHED if said else old


_OVERLAY = np.array([_after_overlay(byte >> 5, byte & 31) for byte in range(256)], np.uint8)
_WITHDRAW = np.array([_after_withdrawal(byte >> 5, byte & 31) for byte in range(256)], np.uint8)


@dataclass(frozen=True, slots=True, eq=False)
class Coverage:
    """The state of every sector of a medium of ``total_sectors``; immutable, each change gives a new one.

    ``starts`` and ``codes`` are the runs (see the module's text), read-only. Rows are ``(first_lba, sectors, state)``
    in any order, as tuples, arrays or columns. Raises BadSpan (a ValueError) with the number of the row at fault.
    """

    total_sectors: int
    starts: Ints
    codes: Codes
    _known: dict[int, tuple[Ints, Ints, Ints]] = field(default_factory=dict, repr=False)

    @classmethod
    def from_rows(cls, total_sectors: int, rows: Rows = ()) -> Coverage:
        """One batch on a medium of which nothing is known yet."""
        total = total_of(total_sectors)
        start = np.zeros(1 if total else 0, np.int64)
        return cls(total, _frozen(start), _frozen(np.zeros(start.size, np.uint8))).overlay(rows)

    @classmethod
    def from_runs(cls, total_sectors: int, starts: npt.ArrayLike, codes: npt.ArrayLike) -> Coverage:
        """A coverage from its own stored columns; BadSpan if they are not such columns."""
        total, at, code = total_of(total_sectors), np.array(starts, np.int64), np.array(codes, np.uint8)
        sound = at.ndim == 1 and at.shape == code.shape and (at.size > 0) == (total > 0)
        if sound and total:
            sound = bool(at[0] == 0 and at[-1] < total and (at[1:] > at[:-1]).all() and code.max() < len(STATES))
        if not sound:
            raise BadSpan(f"These columns are not the runs of a medium of {total:,} sectors.")
        return cls(total, *_merged(at, code))

    def overlay(self, rows: Rows) -> Coverage:
        """A newer batch laid over this: it wins, but for what the module's text says of `unreached` and `read`."""
        batch = read_batch(rows, self.total_sectors, CODES)
        return self._swept(batch, _OVERLAY)

    def withdraw(self, rows: Rows) -> Coverage:
        """All that is known of these sectors taken back; rows may be ``(first_lba, sectors)`` without a state."""
        firsts, sectors = read_spans(rows, self.total_sectors)
        return self._swept(Batch(firsts, sectors, np.full(firsts.size, READ, np.uint8)), _WITHDRAW)

    def count(self, state: str, first: int = 0, sectors: int | None = None) -> int:
        """Sectors in this state, in the whole medium or in ``sectors`` from ``first`` (None: to the end)."""
        length = self.total_sectors - first if sectors is None else sectors
        return int(self.count_each(state, *read_spans([(first, length)], self.total_sectors))[0])

    def counts(self, first: int = 0, sectors: int | None = None) -> dict[str, int]:
        """Sectors in each state, strongest first; they add up to the length asked for."""
        return {state: self.count(state, first, sectors) for state in reversed(STATES)}

    def count_in(self, state: str, spans: Rows) -> int:
        """Sectors in this state within the spans, each sector counted once however the spans overlap."""
        firsts, ends = self._union_of(spans)
        return int(self.count_each(state, firsts, ends - firsts).sum())

    def share(self, state: str, spans: Rows) -> Fraction:
        """The exact share of the spans' sectors in this state, 0 to 1, each sector counted once.

        Nothing at all counts as wholly read (a file of no sectors is whole), so that the states' shares add up to 1.
        """
        firsts, ends = self._union_of(spans)
        size = int((ends - firsts).sum())
        if size == 0:
            return Fraction(int(_code(state) == READ))
        return Fraction(int(self.count_each(state, firsts, ends - firsts).sum()), size)

    def spans(self, state: str) -> list[Span]:
        """The spans in this state, in order of place, as pairs (first sector, number of sectors)."""
        firsts, sectors = self.columns(state)
        return list(zip(firsts.tolist(), sectors.tolist(), strict=True))

    def columns(self, state: str) -> tuple[Ints, Ints]:
        """``spans`` as two columns, for many."""
        firsts, ends, _ = self._of(_code(state))
        return firsts, ends[1:] - firsts

    def state_at(self, sector: int) -> str:
        """The state of one sector."""
        read_spans([(sector, 1)], self.total_sectors)
        return STATES[int(self.codes[np.searchsorted(self.starts, sector, side="right") - 1])]

    def count_each(self, state: str, firsts: Ints, sectors: Ints) -> Ints:
        """Sectors in this state within each span ``[first, first + sectors)`` by itself; all lie on the medium."""
        known = self._of(_code(state))
        return _below(known, firsts + sectors) - _below(known, firsts)

    def count_groups(self, state: str, firsts: Ints, sectors: Ints, sizes: Ints) -> Ints:
        """Sectors in this state per group of spans: the first ``sizes[0]`` spans, the next ``sizes[1]``, and so on.

        The groups are files and the spans their extents, in the order of the list; a file may have none.

        >>> disk = Coverage.from_rows(100, [(0, 50, "read")])
        >>> column = lambda *numbers: np.array(numbers, np.int64)
        >>> disk.count_groups("read", column(40, 60, 0), column(20, 10, 5), column(2, 0, 1)).tolist()
        [10, 0, 5]
        """
        sums = np.concatenate((np.zeros(1, np.int64), np.cumsum(self.count_each(state, firsts, sectors))))
        upto = np.concatenate((np.zeros(1, np.int64), np.cumsum(sizes)))
        return np.diff(sums[upto])

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Coverage):
            return NotImplemented
        same = self.total_sectors == other.total_sectors and np.array_equal(self.starts, other.starts)
        return bool(same and np.array_equal(self.codes, other.codes))

    def __hash__(self) -> int:
        return hash((self.total_sectors, self.starts.tobytes(), self.codes.tobytes()))

    def _union_of(self, spans: Rows) -> tuple[Ints, Ints]:
        firsts, sectors = read_spans(spans, self.total_sectors)
        return union(firsts, firsts + sectors)

    def _swept(self, batch: Batch, table: Codes) -> Coverage:
        if batch.firsts.size == 0:
            return self
        places, toggles = self._boundaries(batch)
        order = np.argsort(places, kind="stable")  # stable: a merge of sorted columns, not a sort
        places, inside = places[order], np.bitwise_xor.accumulate(toggles[order])
        last = np.append(places[1:] != places[:-1], True) & (places < self.total_sectors)
        return Coverage(self.total_sectors, *_merged(places[last], table[inside[last]]))

    def _boundaries(self, batch: Batch) -> tuple[Ints, Codes]:
        """Every place where something begins or ends, and the byte to toggle there."""
        before = np.concatenate((np.zeros(min(1, self.codes.size), np.uint8), self.codes[:-1]))
        places, toggles = [self.starts], [(self.codes ^ before) << np.uint8(5)]
        for code in range(1, len(STATES)):  # `unreached` says nothing
            chosen = batch.codes == code
            firsts = batch.firsts[chosen]
            for edge in union(firsts, firsts + batch.sectors[chosen]):
                places.append(edge)
                toggles.append(np.full(edge.size, 1 << (code - 1), np.uint8))
        return np.concatenate(places), np.concatenate(toggles)

    def _of(self, code: int) -> tuple[Ints, Ints, Ints]:
        """Of one state: the firsts; the ends and the running totals, each with a 0 in front. Worked out once."""
        if code not in self._known:
            runs = np.flatnonzero(self.codes == code)
            firsts = self.starts[runs]
            ends = np.append(self.starts[1:], self.total_sectors)[runs] if runs.size else firsts
            zero = np.zeros(1, np.int64)
            totals = np.concatenate((zero, np.cumsum(ends - firsts)))
            self._known[code] = (_frozen(firsts), _frozen(np.concatenate((zero, ends))), _frozen(totals))
        return self._known[code]


def derive(total_sectors: int, steps: Iterable[tuple[str, Rows]]) -> Coverage:
    """The coverage that a history gives: steps ``("overlay", rows)`` and ``("withdraw", rows)``, oldest first.

    >>> derive(10, [("overlay", [(0, 10, "read")]), ("withdraw", [(2, 3)])]).spans("unreached")
    [(2, 3)]
    """
    coverage = Coverage.from_rows(total_sectors)
    for verb, rows in steps:
        if verb not in ("overlay", "withdraw"):
            raise ValueError(f"A step is 'overlay' or 'withdraw', not {verb!r}.")
        coverage = coverage.overlay(rows) if verb == "overlay" else coverage.withdraw(rows)
    return coverage


def percent(part: int, whole: int, places: int = 2) -> str:
    """``part`` of ``whole`` in per cent, cut off and never rounded up; all of nothing is 100.

    >>> percent(976, 977), percent(2, 3, places=0), percent(0, 0)
    ('99.89', '66', '100.00')
    """
    scale = 10**places
    parts = part * 100 * scale // whole if whole else 100 * scale
    return f"{parts // scale}.{parts % scale:0{places}d}" if places else str(parts)


def _below(known: tuple[Ints, Ints, Ints], places: Ints) -> Ints:
    """How many sectors of the state lie before each place."""
    firsts, ends, totals = known
    at = np.searchsorted(firsts, places, side="right")
    beyond: Ints = np.maximum(ends[at] - places, 0)
    return totals[at] - beyond


def _merged(starts: Ints, codes: Codes) -> tuple[Ints, Codes]:
    new = np.append(True, codes[1:] != codes[:-1])[: codes.size]
    return _frozen(starts[new]), _frozen(codes[new])


def _frozen(array: npt.NDArray[Scalar]) -> npt.NDArray[Scalar]:
    array.setflags(write=False)
    return array


def _code(state: str) -> int:
    if state not in CODES:
        raise BadSpan(f"There is no state {state!r}; the states are {', '.join(STATES)}.")
    return CODES[state]
