"""How two values of one attribute are compared, and the sentence that says how it came out.

Every comparison ends in one of five marks. A value that is not known gives *unknown*, whatever the other side
holds; *different* is said only when both sides are known and cannot go together. Text is compared without
blanks and case; values that differ in punctuation only are *near*, since labels are read by people.

>>> compare = comparison(Rule("made", comparator=Comparator.DAYS, limit=92))
>>> from datetime import date
>>> compare(date(2021, 3, 1), date(2021, 5, 20)).sign, compare(date(2021, 3, 1), None).sign
('✓', '?')
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import date
from enum import StrEnum
from functools import lru_cache
from operator import attrgetter
from typing import Any, NamedTuple

from labcases.media.traits import Traits
from labcases.stock.rules import Comparator, Rule, fold


class Mark(StrEnum):
    """How one attribute came out."""

    SAME = "same"
    NEAR = "near"
    UNKNOWN = "unknown"
    DIFFERENT = "different"
    NOT_APPLICABLE = "not applicable"

    @property
    def sign(self) -> str:
        """The mark as it is shown: ✓ ≈ ? ✕ –."""
        return _SIGNS[self]


_SIGNS = {
    Mark.SAME: "✓",
    Mark.NEAR: "≈",
    Mark.UNKNOWN: "?",
    Mark.DIFFERENT: "✕",
    Mark.NOT_APPLICABLE: "–",
}


class Heads(NamedTuple):
    """What is known of heads: positions fitted, positions alive, and how many there are."""

    fitted: tuple[int, ...]
    alive: tuple[int, ...]
    number: int | None


class Offsets(NamedTuple):
    """Radial offsets and, where known, the head each belongs to."""

    values: tuple[float, ...]
    heads: tuple[int, ...]


Comparison = Callable[[Any, Any], Mark]


def reads(rule: Rule) -> tuple[str, ...]:
    """The names of the traits that a rule looks at."""
    if rule.attribute.startswith("code:"):
        return ("codes",)
    if rule.comparator is Comparator.HEADS:
        return ("head_map", "heads_alive", "heads")
    if rule.attribute == "head_offsets":
        return ("head_offsets", "head_map")
    if rule.attribute == "heads":
        return ("heads", "head_map")
    return (rule.attribute,)


def operand(rule: Rule) -> Callable[[Traits], Any]:
    """The function that takes what a rule compares out of traits."""
    if rule.attribute.startswith("code:"):
        name = rule.attribute[5:]
        return lambda traits: traits.code(name)
    if rule.comparator is Comparator.HEADS:
        return lambda traits: Heads(tuple(traits.head_map), tuple(traits.heads_alive), traits.heads)
    if rule.comparator is Comparator.VECTOR:
        return lambda traits: Offsets(tuple(traits.head_offsets), tuple(traits.head_map))
    if rule.attribute == "heads":
        return lambda traits: traits.heads if traits.heads is not None else len(traits.head_map) or None
    return attrgetter(rule.attribute)


def is_known(value: Any) -> bool:
    """Whether a value says anything: not None, not empty, not blank.

    >>> [is_known(v) for v in (None, "", "  ", (), 0, "A1", Heads((), (), None), Heads((), (), 4))]
    [False, False, False, False, True, True, False, True]
    """
    if isinstance(value, Heads):
        return bool(value.fitted or value.alive or value.number is not None)
    if isinstance(value, Offsets):
        return bool(value.values)
    if isinstance(value, str):
        return bool(value.strip())
    return value is not None and value != () and value != []


@lru_cache(maxsize=4096)
def comparison(rule: Rule) -> Comparison:
    """The comparison that a rule asks for: (patient's value, part's value) -> Mark."""
    if rule.comparator is Comparator.HEADS:
        return _heads(int(rule.limit or 0))
    make: Callable[[Rule], Comparison] = _MAKERS[rule.comparator]
    compare = make(rule)

    def both_known(patient: Any, part: Any) -> Mark:
        if not is_known(patient) or not is_known(part):
            return Mark.UNKNOWN
        return compare(patient, part)

    return both_known


def _equal(rule: Rule) -> Comparison:
    def compare(patient: Any, part: Any) -> Mark:
        if isinstance(patient, str) and isinstance(part, str):
            return _text(patient, part)
        if isinstance(patient, (tuple, list)) and isinstance(part, (tuple, list)):
            return _listed([_folded(v) for v in patient], [_folded(v) for v in part])
        return Mark.SAME if patient == part else Mark.DIFFERENT

    return compare


def _text(patient: str, part: str) -> Mark:
    a, b = fold(patient), fold(part)
    if a == b:
        return Mark.SAME
    bare = _bare(a)
    return Mark.NEAR if bare and bare == _bare(b) else Mark.DIFFERENT


def _listed(patient: list[Any], part: list[Any]) -> Mark:
    if patient == part:
        return Mark.SAME
    return Mark.NEAR if sorted(patient, key=str) == sorted(part, key=str) else Mark.DIFFERENT


def _one_of(rule: Rule) -> Comparison:
    group = {fold(name): number for number, names in enumerate(rule.groups) for name in names}

    def compare(patient: str, part: str) -> Mark:
        theirs = group.get(fold(patient))
        if theirs is not None and theirs == group.get(fold(part)):
            return Mark.SAME
        return _text(patient, part)

    return compare


def _prefix(rule: Rule) -> Comparison:
    first, last = rule.start - 1, rule.start - 1 + int(rule.limit or 0)

    def compare(patient: str, part: str) -> Mark:
        whole, other = fold(patient), fold(part)
        if whole == other:
            return Mark.SAME
        a, b = whole[first:last], other[first:last]
        shared = min(len(a), len(b))
        if a[:shared] != b[:shared]:
            return Mark.DIFFERENT
        return Mark.SAME if shared == last - first else Mark.UNKNOWN  # too short to tell

    return compare


def _days(rule: Rule) -> Comparison:
    limit = int(rule.limit or 0)

    def compare(patient: date, part: date) -> Mark:
        return _within(abs((patient - part).days), limit)

    return compare


def _at_least(rule: Rule) -> Comparison:
    return lambda patient, part: Mark.SAME if part >= patient else Mark.DIFFERENT


def _within(distance: float, limit: float) -> Mark:
    """Same within the limit, near within twice the limit."""
    if distance <= limit:
        return Mark.SAME
    return Mark.NEAR if distance <= 2 * limit else Mark.DIFFERENT


def _heads(may_be_dead: int) -> Comparison:
    def compare(patient: Heads, part: Heads) -> Mark:
        if _not_fitted(patient, part) or _too_few(patient, part, may_be_dead):
            return Mark.DIFFERENT
        if not patient.fitted or not part.alive:
            return Mark.UNKNOWN
        dead = len(set(patient.fitted) - set(part.alive))
        if not dead:
            return Mark.SAME
        return Mark.NEAR if dead <= may_be_dead and dead < len(set(patient.fitted)) else Mark.DIFFERENT

    return compare


def _not_fitted(patient: Heads, part: Heads) -> set[int]:
    """Positions the patient has and the part is known not to have."""
    return set(patient.fitted) - set(part.fitted) if part.fitted else set()


def _too_few(patient: Heads, part: Heads, may_be_dead: int) -> bool:
    """Whether the counts alone rule the part out. Each test needs two known facts, so not knowing never does."""
    needed = [n for n in (len(set(patient.fitted)), patient.number) if n]
    fitted = [n for n in (len(set(part.fitted)), part.number) if n]
    alive = [n + may_be_dead for n in (len(set(part.alive)),) if n]
    return any(have < need for need in needed for have in fitted + alive)


def _vector(rule: Rule) -> Comparison:
    limit = float(rule.limit or 0)

    def compare(patient: Offsets, part: Offsets) -> Mark:
        pairs = line_up(patient, part)
        distances = [abs(a - b) for _, a, b in pairs]
        known = [d for d in distances if math.isfinite(d)]
        worst = max(known, default=0.0)
        mark = _within(worst, limit)
        complete = len(known) == len(patient.values) and known
        return mark if mark is Mark.DIFFERENT or complete else Mark.UNKNOWN

    return compare


def line_up(patient: Offsets, part: Offsets) -> list[tuple[int, float, float]]:
    """(head, patient's offset, part's offset) for every head both have; empty where they cannot be lined up.

    >>> line_up(Offsets((5.0, 7.0), (0, 2)), Offsets((5.5, 6.0, 9.0), (0, 1, 2)))
    [(0, 5.0, 5.5), (2, 7.0, 9.0)]
    """
    mapped = all(len(side.heads) == len(side.values) for side in (patient, part))
    if mapped and patient.heads and part.heads:
        theirs = dict(zip(part.heads, part.values, strict=True))
        mine = zip(patient.heads, patient.values, strict=True)
        return [(head, value, theirs[head]) for head, value in mine if head in theirs]
    if len(patient.values) != len(part.values):
        return []
    return [(n, a, b) for n, (a, b) in enumerate(zip(patient.values, part.values, strict=True))]


_MAKERS: dict[Comparator, Callable[[Rule], Comparison]] = {
    Comparator.EQUAL: _equal,
    Comparator.ONE_OF: _one_of,
    Comparator.PREFIX: _prefix,
    Comparator.DAYS: _days,
    Comparator.AT_LEAST: _at_least,
    Comparator.VECTOR: _vector,
}


def _bare(folded: str) -> str:
    return "".join(c for c in folded if c.isalnum())


def _folded(value: Any) -> Any:
    return fold(value) if isinstance(value, str) else value
