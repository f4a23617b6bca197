"""The reason for each mark: one attribute, both values, the mark and a sentence.

Reasons are made on demand only, from what a verdict kept, so that ranking thousands of parts writes no sentence.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from labcases.stock.comparing import Heads, Mark, Offsets, is_known, line_up
from labcases.stock.rules import Comparator, Level, Rule

SEVERAL = frozenset(
    {"sectors", "sector_bytes", "head_map", "heads_alive", "platters", "head_offsets", "flash_ids", "channels"}
)
_OF_SEVERAL = {"is": "are", "differs": "differ", "counts": "count", "does": "do"}


@dataclass(frozen=True, slots=True)
class Finding:
    """One rule, the two values it compared, and how they came out."""

    rule: Rule
    mark: Mark
    patient: Any
    part: Any


@dataclass(frozen=True, slots=True)
class Reason:
    """One line of the match page. ``patient`` and ``part`` are the values as shown, empty where not known."""

    attribute: str
    label: str
    level: Level
    mark: Mark
    patient: str
    part: str
    sentence: str

    def as_record(self) -> dict[str, str]:
        """The reason as JSON-able data."""
        return {
            "attribute": self.attribute,
            "label": self.label,
            "level": self.level.value,
            "mark": self.mark.value,
            "sign": self.mark.sign,
            "patient": self.patient,
            "part": self.part,
            "sentence": self.sentence,
        }


def reason_for(finding: Finding) -> Reason:
    """The reason of one finding."""
    rule = finding.rule
    return Reason(
        attribute=rule.attribute,
        label=rule.label,
        level=rule.level,
        mark=finding.mark,
        patient=shown(finding.patient),
        part=shown(finding.part, of_part=True),
        sentence=sentence(finding),
    )


def shown(value: Any, *, of_part: bool = False) -> str:
    """A value as it is read on the page.

    >>> shown(1953525168), shown(("A1", "B2")), shown(Heads((0, 1), (0,), 2), of_part=True)
    ('1,953,525,168', 'A1, B2', '0, 1; alive 0')
    """
    if not is_known(value):
        return ""
    match value:
        case Heads():
            return _shown_heads(value, of_part=of_part)
        case Offsets():
            return _join(value.values)
        case tuple() | list():
            return _join(value)
        case date():
            return value.isoformat()
        case int():
            return f"{value:,}"
        case _:
            return str(value).strip()


def _shown_heads(heads: Heads, *, of_part: bool) -> str:
    positions = _join(heads.fitted) or (f"{heads.number} heads" if heads.number is not None else "")
    alive = f"alive {_join(heads.alive)}" if of_part and heads.alive else ""
    return "; ".join(text for text in (positions, alive) if text)


def _join(values: Iterable[Any]) -> str:
    return ", ".join(f"{v:g}" if isinstance(v, float) else str(v) for v in values)


def sentence(finding: Finding) -> str:
    """Why the mark is what it is, in one sentence; a rule's own ``why`` follows where the values differ."""
    rule, mark = finding.rule, finding.mark
    if mark is Mark.NOT_APPLICABLE:
        return f"{rule.label} {_verb(rule, 'does')} not apply to this patient."
    if rule.comparator is Comparator.HEADS:
        text = _heads_sentence(finding)
    elif not is_known(finding.patient) or not is_known(finding.part):
        text = _not_known(finding)
    elif rule.comparator is Comparator.VECTOR:
        text = _vector_sentence(finding)
    else:
        text = _value_sentence(finding)
    return f"{text} {rule.why}" if rule.why and mark is Mark.DIFFERENT else text


def _not_known(finding: Finding) -> str:
    whose = {
        (False, False): "of either",
        (False, True): "of the patient",
        (True, False): "of the part",
    }[is_known(finding.patient), is_known(finding.part)]
    return f"{finding.rule.label} {_verb(finding.rule, 'is')} not known {whose}."


def _verb(rule: Rule, word: str) -> str:
    """*Is*, *differs*, *counts* or *does* as the attribute's name wants it: sectors are, a board number is."""
    return _OF_SEVERAL[word] if rule.attribute in SEVERAL else word


def _value_sentence(finding: Finding) -> str:
    rule, mark = finding.rule, finding.mark
    patient, part = shown(finding.patient), shown(finding.part, of_part=True)
    if rule.comparator is Comparator.DAYS:
        return _days_sentence(finding)
    if rule.comparator is Comparator.PREFIX and mark is Mark.UNKNOWN:
        return f"{rule.label} {_verb(rule, 'is')} too short to compare: the patient has {patient}, the part has {part}."
    if mark is Mark.DIFFERENT:
        return f"{rule.label} {_verb(rule, 'differs')}: the patient has {patient}, the part has {part}."
    if mark is Mark.NEAR:
        alike = f"{rule.label} {_verb(rule, 'is')} the same but for punctuation or order"
        return f"{alike}: {patient} and {part}. Look at both."
    if finding.patient == finding.part:
        return f"{rule.label} {_verb(rule, 'is')} the same: {part}."
    return f"{rule.label} {_verb(rule, 'counts')} as the same: {_because(rule, patient, part)}."


def _because(rule: Rule, patient: str, part: str) -> str:
    if rule.comparator is Comparator.ONE_OF:
        return f"{patient} and {part} are names of one thing"
    if rule.comparator is Comparator.AT_LEAST:
        return f"{part} is no less than {patient}"
    if rule.comparator is Comparator.PREFIX:
        last = rule.start + int(rule.limit or 0) - 1
        return f"{patient} and {part} agree in characters {rule.start} to {last}"
    return f"{patient} and {part}"


def _days_sentence(finding: Finding) -> str:
    apart = abs((finding.patient - finding.part).days)
    days = "1 day" if apart == 1 else f"{apart} days"
    limit = int(finding.rule.limit or 0)
    ending = {
        Mark.SAME: f"within {limit}",
        Mark.NEAR: f"more than {limit}, but within twice that",
    }.get(finding.mark, f"more than twice {limit}")
    return f"{finding.rule.label} {days} apart: {ending}."


def _vector_sentence(finding: Finding) -> str:
    label = finding.rule.label
    pairs = [p for p in line_up(finding.patient, finding.part) if math.isfinite(p[1]) and math.isfinite(p[2])]
    if not pairs:
        return f"{label} cannot be lined up head by head."
    head, a, b = max(pairs, key=lambda pair: abs(pair[1] - pair[2]))
    text = f"{label} differ most at head {head}, by {abs(a - b):g}; the tolerance is {finding.rule.limit:g}."
    if finding.mark is Mark.UNKNOWN:
        return f"{text} Not every head could be compared."
    return text


def _heads_sentence(finding: Finding) -> str:
    patient, part = finding.patient, finding.part
    needed = set(patient.fitted)
    missing = needed - set(part.fitted) if part.fitted else set()
    dead = needed - set(part.alive) if part.alive else set()
    if missing:
        return f"{_named(missing)} of the patient {_is(missing)} not fitted on the part."
    if dead:
        return f"{_named(dead)} {_is(dead)} needed and not alive on the part."
    if finding.mark is Mark.SAME:
        return f"Every head the patient needs ({_join(sorted(needed))}) is alive on the part."
    if finding.mark is Mark.DIFFERENT:
        return (
            f"The part has too few heads: the patient has {shown(patient)}, the part has {shown(part, of_part=True)}."
        )
    return _heads_not_known(patient, part)


def _heads_not_known(patient: Heads, part: Heads) -> str:
    if patient.fitted and part.fitted:
        return "The right heads are fitted on the part, but not tested: which are alive is not known."
    if not patient.fitted and not (part.fitted or part.alive):
        return "Which heads are fitted is not known of either."
    return f"Which heads are fitted is not known of the {'part' if patient.fitted else 'patient'}."


def _named(heads: set[int]) -> str:
    return ("Head " if len(heads) == 1 else "Heads ") + _join(sorted(heads))


def _is(heads: set[int]) -> str:
    return "is" if len(heads) == 1 else "are"
