"""Does this part fit this patient, and why: the verdict, its score, and the order of candidates.

A rule set (:mod:`labcases.stock.rules`) is gone through attribute by attribute. Each rule ends in a mark, each
mark is worth points, and the score is what was reached of what could be reached, weighted, from 0 to 100:

======  ==============  ======  =============================================
mark    meaning         points  on a *must*
======  ==============  ======  =============================================
✓       same            4 of 4  nothing to say
≈       near            3 of 4  check by eye
?       unknown         2 of 4  check by eye: unknown is not different
✕       different       0 of 4  the part is excluded
–       not applicable  left out of the score
======  ==============  ======  =============================================

The verdict is **no** if a must is different; else **unlikely** if the score is under 50 (what is known speaks
more against the part than for it; knowing nothing at all is exactly 50); else **check by eye** if a must is near
or unknown; else **fits**. So what is not known can never exclude, and learning that something agrees can never
lower a score or worsen a verdict.

>>> from labcases.media.traits import Traits
>>> from labcases.stock.rules import RULES, PartKind
>>> patient = Traits(board_number="100-7421", main_chip="QX88", board_revision="C")
>>> verdict = judge(patient, Traits(board_number="100-7421", board_revision="D"), RULES[PartKind.CONTROLLER_BOARD])

Weights 10, 8, 3, 2 and marks ✓ ? ✕ ? give (10·4 + 8·2 + 3·0 + 2·2) / (23·4) = 60 / 92:

>>> verdict.grade, verdict.score, verdict.excluded
(<Grade.CHECK: 'check by eye'>, 65, False)
>>> verdict.headline
'Check by eye: main chip is not known of the part.'
>>> [f"{r.mark.sign} {r.sentence}" for r in verdict.reasons][:3]  # doctest: +NORMALIZE_WHITESPACE
['✓ Board number is the same: 100-7421.', '? Main chip is not known of the part.',
 '✕ Board revision differs: the patient has C, the part has D.']
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from operator import attrgetter
from typing import Any, Generic, Protocol, TypeVar

from labcases.media.traits import Traits
from labcases.stock.comparing import Comparison, Mark, comparison, is_known, operand, reads
from labcases.stock.reasons import Finding, Reason, reason_for
from labcases.stock.rules import (
    RULES,
    Comparator,
    Level,
    PartKind,
    Rule,
    RuleError,
    rules_as_records,
    rules_from_records,
)

__all__ = [
    "RULES",
    "Candidate",
    "Comparator",
    "Grade",
    "Level",
    "Mark",
    "PartKind",
    "Ranked",
    "Reason",
    "Rule",
    "RuleError",
    "Verdict",
    "judge",
    "rank",
    "rules_as_records",
    "rules_from_records",
]


class Grade(StrEnum):
    """The verdict in a word, best first."""

    FITS = "fits"
    CHECK = "check by eye"
    UNLIKELY = "unlikely"
    NO = "no"


GRADES = tuple(Grade)
POINTS = {Mark.SAME: 4, Mark.NEAR: 3, Mark.UNKNOWN: 2, Mark.DIFFERENT: 0, Mark.NOT_APPLICABLE: 0}
MOST = 4  # points of a mark that could not be better
NO_HISTORY = 0.5  # where no outcome was ever recorded, candidates are ordered as if even
_ORDER = {grade: place for place, grade in enumerate(GRADES)}


@dataclass(frozen=True, slots=True)
class Verdict:
    """How a part suits a patient: a grade, a score from 0 to 100, and what every rule found."""

    grade: Grade
    score: int
    findings: tuple[Finding, ...]

    @property
    def excluded(self) -> bool:
        """Whether a must-match differs, so that only a manager may lift it with a reason."""
        return self.grade is Grade.NO

    @property
    def reasons(self) -> tuple[Reason, ...]:
        """One reason for each rule, in the order of the rules. Written anew each time: ask only for what is shown."""
        return tuple(reason_for(finding) for finding in self.findings)

    @property
    def headline(self) -> str:
        """The verdict in one sentence."""
        return _HEADLINES[self.grade](self)

    def as_record(self) -> dict[str, Any]:
        """The verdict as JSON-able data, to be kept with the assignment."""
        return {
            "grade": self.grade.value,
            "score": self.score,
            "excluded": self.excluded,
            "headline": self.headline,
            "reasons": [reason.as_record() for reason in self.reasons],
        }

    def _sentences(self, level: Level, *marks: Mark) -> list[str]:
        chosen = [f for f in self.findings if f.rule.level is level and f.mark in marks]
        return [reason_for(finding).sentence for finding in chosen]


def _fits(verdict: Verdict) -> str:
    differing = verdict._sentences(Level.BETTER, Mark.DIFFERENT)
    if not differing:
        return f"Fits: everything that must match is the same; score {verdict.score}."
    return f"Fits: everything that must match is the same; {_small(differing[0])}"


def _check(verdict: Verdict) -> str:
    doubtful = verdict._sentences(Level.MUST, Mark.UNKNOWN, Mark.NEAR)
    if not doubtful:
        return "Check by eye: no rule could be applied."
    return f"Check by eye: {_small(doubtful[0])}{_more(doubtful)}"


def _unlikely(verdict: Verdict) -> str:
    return (
        f"Unlikely: nothing excludes it, but what is known speaks more against it than for it; score {verdict.score}."
    )


def _no(verdict: Verdict) -> str:
    differing = verdict._sentences(Level.MUST, Mark.DIFFERENT)
    return f"Does not fit: {_small(differing[0])}{_more(differing)}"


_HEADLINES: dict[Grade, Callable[[Verdict], str]] = {
    Grade.FITS: _fits,
    Grade.CHECK: _check,
    Grade.UNLIKELY: _unlikely,
    Grade.NO: _no,
}


def _small(sentence: str) -> str:
    """A sentence as it stands after a colon; words that are all capitals, such as ROM, stay so."""
    return sentence if sentence[:2].isupper() else sentence[:1].lower() + sentence[1:]


def _more(sentences: list[str]) -> str:
    others = len(sentences) - 1
    if not others:
        return ""
    return " One more like it." if others == 1 else f" {others} more like it."


def judge(patient: Traits, part: Traits, rules: Iterable[Rule]) -> Verdict:
    """The verdict on one part for one patient. Unknown is never treated as different."""
    return _judge_of(patient, tuple(rules))(part)


class Step:
    """One rule made ready: what it takes out of traits, and how it compares."""

    __slots__ = ("compare", "rule", "take", "unless")

    def __init__(self, rule: Rule) -> None:
        self.rule = rule
        self.take: Callable[[Traits], Any] = operand(rule)
        self.compare: Comparison = comparison(rule)
        self.unless = rule.unless_known

    def does_not_apply_to(self, patient: Traits) -> bool:
        """Whether the patient is known to be of a sort that need not have this attribute."""
        return bool(self.unless) and any(is_known(_trait(patient, name)) for name in self.unless)

    def mark(self, patient: Any, part: Any, *, waived: bool) -> Mark:
        if waived and not is_known(patient) and not is_known(part):
            return Mark.NOT_APPLICABLE
        return self.compare(patient, part)


def _trait(traits: Traits, name: str) -> Any:
    return traits.code(name[5:]) if name.startswith("code:") else getattr(traits, name)


@lru_cache(maxsize=256)
def steps(rules: tuple[Rule, ...]) -> tuple[Step, ...]:
    """Rules made ready to be gone through."""
    return tuple(Step(rule) for rule in rules)


def _judge_of(patient: Traits, rules: tuple[Rule, ...]) -> Callable[[Traits], Verdict]:
    """Everything that depends on the patient only is worked out once."""
    ready = [(step, step.take(patient), step.does_not_apply_to(patient)) for step in steps(rules)]

    def verdict_on(part: Traits) -> Verdict:
        findings = []
        for step, mine, waived in ready:
            theirs = step.take(part)
            findings.append(Finding(step.rule, step.mark(mine, theirs, waived=waived), mine, theirs))
        score = _score(findings)
        return Verdict(_grade(findings, score), score, tuple(findings))

    return verdict_on


def _score(findings: Iterable[Finding]) -> int:
    reached = possible = 0.0
    for finding in findings:
        if finding.mark is not Mark.NOT_APPLICABLE:
            reached += finding.rule.weight * POINTS[finding.mark]
            possible += finding.rule.weight * MOST
    return int(100 * reached / possible + 0.5) if possible else 50


def _grade(findings: Sequence[Finding], score: int) -> Grade:
    musts = {finding.mark for finding in findings if finding.rule.level is Level.MUST}
    if Mark.DIFFERENT in musts:
        return Grade.NO
    if score < 50:
        return Grade.UNLIKELY
    nothing_applied = all(finding.mark is Mark.NOT_APPLICABLE for finding in findings)
    if nothing_applied or Mark.UNKNOWN in musts or Mark.NEAR in musts:
        return Grade.CHECK
    return Grade.FITS


class Part(Protocol):
    """What ranking needs to know of a candidate."""

    @property
    def key(self) -> Hashable: ...
    @property
    def traits(self) -> Traits: ...
    @property
    def cost_minor(self) -> int | None: ...
    @property
    def missed(self) -> float: ...
    @property
    def success(self) -> float | None: ...


@dataclass(frozen=True, slots=True)
class Candidate:
    """A free part as ranking sees it.

    ``cost_minor`` is in minor units of the lab's currency (None: not known). ``missed`` says how much other
    waiting patients would miss it (:func:`labcases.stock.allocation.missed`). ``success`` is the expected
    success from 0 to 1 (:mod:`labcases.stock.expected`), None where there is no history.
    """

    key: Hashable
    traits: Traits
    cost_minor: int | None = None
    missed: float = 0.0
    success: float | None = None


P = TypeVar("P", bound=Part)
SuccessOf = Callable[[Verdict], float | None]


@dataclass(frozen=True, slots=True)
class Ranked(Generic[P]):
    """A candidate and the verdict on it."""

    candidate: P
    verdict: Verdict


def rank(
    patient: Traits, parts: Iterable[P], rules: Iterable[Rule], success: SuccessOf | None = None
) -> list[Ranked[P]]:
    """Every candidate with its verdict, in the order in which to look at them.

    ``success`` gives the expected success of a verdict, for candidates that say none themselves.

    By verdict; then expected success, highest first (no history counts as even); then how much the part would
    be missed, least first; then cost, lowest first (not known comes last); what is still equal goes by score and
    then stays in the order given. Parts whose compared traits are equal are judged once.

    >>> from labcases.media.traits import Traits
    >>> rules = [Rule("board_number")]
    >>> parts = [Candidate("dear", Traits(board_number="B1"), 900), Candidate("other", Traits(board_number="B2"), 10),
    ...          Candidate("cheap", Traits(board_number="b1"), 200), Candidate("bare", Traits(), 0)]
    >>> [(r.candidate.key, str(r.verdict.grade)) for r in rank(Traits(board_number="B1"), parts, rules)]
    [('cheap', 'fits'), ('dear', 'fits'), ('bare', 'check by eye'), ('other', 'no')]
    """
    wanted = tuple(rules)
    verdict_on = _judge_of(patient, wanted)
    compared = compared_traits(wanted)
    seen: dict[tuple[Any, ...], Verdict] = {}
    ranked: list[Ranked[P]] = []
    for part in parts:
        key = compared(part.traits)
        verdict = seen.get(key)
        if verdict is None:
            verdict = seen[key] = verdict_on(part.traits)
        ranked.append(Ranked(part, verdict))
    expect = success or no_success
    ranked.sort(key=lambda one: _place(one, expect))
    return ranked


def no_success(verdict: Verdict) -> float | None:
    """Expected success where nothing was ever recorded."""
    return None


def _place(ranked: Ranked[Any], expect: SuccessOf) -> tuple[int, float, float, bool, int, int]:
    candidate, verdict = ranked.candidate, ranked.verdict
    expected = expect(verdict) if candidate.success is None else candidate.success
    success = NO_HISTORY if expected is None else expected
    cost = candidate.cost_minor
    return _ORDER[verdict.grade], -success, candidate.missed, cost is None, cost or 0, -verdict.score


def compared_traits(rules: Iterable[Rule]) -> Callable[[Traits], tuple[Any, ...]]:
    """The function that takes from traits everything the rules look at: equal tuples get equal verdicts."""
    names = sorted({name for rule in rules for name in (*reads(rule), *_unless(rule))}) or ["kind"]
    take = attrgetter(*names, names[0])  # twice the first: with a single name it would give no tuple

    def key(traits: Traits) -> tuple[Any, ...]:
        return tuple(tuple(v) if type(v) is list else v for v in take(traits))

    return key


def _unless(rule: Rule) -> list[str]:
    return ["codes" if name.startswith("code:") else name for name in rule.unless_known]
