"""What must match for which part: rules as plain data that the lab edits.

A :class:`Rule` names one attribute of :class:`labcases.media.traits.Traits` (or ``code:NAME`` for a free label
code), says whether it *must* match or is only *better* if it does, how the two values are compared, and how
much it weighs in the score. Rules go to and from JSON-able dicts, so that the lab can keep its own, for every
family if it likes; what cannot be meant is refused with a sentence.

>>> rule = Rule("made", Level.BETTER, Comparator.DAYS, weight=2, limit=92)
>>> rule.as_record()
{'attribute': 'made', 'level': 'better', 'comparator': 'within days', 'weight': 2, 'limit': 92}
>>> Rule.from_record(rule.as_record()) == rule
True
>>> Rule.from_record({"attribute": "colour"})
Traceback (most recent call last):
    ...
labcases.stock.rules.RuleError: There is no attribute “colour”. Name one of Traits, or code:NAME for a label code.

The default rules are common practice in the trade, with no source; every figure in them is a starting point.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from enum import StrEnum
from types import MappingProxyType
from typing import Any


class RuleError(ValueError):
    """A rule that cannot be meant; the text says what is wrong and what may stand there."""


class PartKind(StrEnum):
    """The parts a donor can give."""

    HEAD_STACK = "head stack"
    CONTROLLER_BOARD = "controller board"
    MOTOR = "motor"
    ROM = "ROM"
    BRIDGE_BOARD = "bridge board"
    CONNECTOR = "connector"
    FLASH_CONTROLLER = "flash controller"
    CHIP = "chip"
    WHOLE_TWIN = "whole twin"


class Level(StrEnum):
    """How much hangs on a rule."""

    MUST = "must"
    BETTER = "better"


class Comparator(StrEnum):
    """How the patient's value and the part's are compared."""

    EQUAL = "equal"
    ONE_OF = "one of"
    PREFIX = "same prefix"
    DAYS = "within days"
    AT_LEAST = "at least"
    HEADS = "subset of heads"
    VECTOR = "vector within tolerance"


LABELS: Mapping[str, str] = MappingProxyType(
    {
        "kind": "Kind",
        "family": "Family",
        "maker": "Maker",
        "model": "Model",
        "serial": "Serial",
        "firmware": "Firmware",
        "interface": "Interface",
        "sectors": "Sectors",
        "sector_bytes": "Bytes a sector",
        "heads": "Number of heads",
        "head_map": "Heads",
        "heads_alive": "Heads alive",
        "platters": "Platters",
        "preamplifier": "Preamplifier",
        "board_number": "Board number",
        "board_revision": "Board revision",
        "main_chip": "Main chip",
        "motor": "Motor",
        "base_casting": "Base casting",
        "plant": "Plant code",
        "made": "Made",
        "head_offsets": "Head offsets",
        "flash_controller": "Flash controller",
        "flash_ids": "Flash ids",
        "channels": "Channels",
        "bridge_number": "Bridge number",
        "encryption_generation": "Encryption generation",
    }
)

_NUMBERS = frozenset({"sectors", "sector_bytes", "heads", "platters", "channels"})
_NOT_TEXT = _NUMBERS | {"head_map", "heads_alive", "made", "head_offsets", "flash_ids"}
_ONLY_FOR: Mapping[Comparator, frozenset[str]] = {
    Comparator.DAYS: frozenset({"made"}),
    Comparator.HEADS: frozenset({"head_map"}),
    Comparator.VECTOR: frozenset({"head_offsets"}),
    Comparator.AT_LEAST: _NUMBERS,
}
_TEXT_ONLY = frozenset({Comparator.ONE_OF, Comparator.PREFIX})


@dataclass(frozen=True, slots=True)
class Rule:
    """One line of what must match.

    ``limit`` is the comparator's figure: characters for *same prefix*, days for *within days*, units of the
    offsets for *vector within tolerance*; for *subset of heads* the needed heads that may be dead before the
    part is excluded (none unless said). ``start`` is the first character that counts, from 1. ``groups`` are
    sets of values that count as one (the aliases of a family). ``unless_known``: where the patient has one of
    these attributes and neither side knows this one, the rule does not apply (a medium with heads has no flash
    controller). ``why`` is a sentence shown when the values differ.
    """

    attribute: str
    level: Level = Level.MUST
    comparator: Comparator = Comparator.EQUAL
    weight: float = 1
    limit: float | None = None
    start: int = 1
    groups: tuple[tuple[str, ...], ...] = ()
    unless_known: tuple[str, ...] = ()
    why: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "level", _member(Level, self.level, "level"))
        object.__setattr__(self, "comparator", _member(Comparator, self.comparator, "comparator"))
        object.__setattr__(self, "groups", tuple(tuple(group) for group in self.groups))
        object.__setattr__(self, "unless_known", tuple(self.unless_known))
        _check_attribute(self)
        _check_figures(self)
        _check_groups(self.groups)

    @property
    def label(self) -> str:
        """The attribute's name on screen."""
        if self.attribute.startswith("code:"):
            return f"Label code {self.attribute[5:]}"
        return LABELS[self.attribute]

    def as_record(self) -> dict[str, Any]:
        """The rule as JSON-able data; what is left at its default is left out."""
        record: dict[str, Any] = {
            "attribute": self.attribute,
            "level": self.level.value,
            "comparator": self.comparator.value,
            "weight": self.weight,
        }
        for field in fields(self)[4:]:
            value = getattr(self, field.name)
            if value != field.default:
                record[field.name] = value
        if self.groups:
            record["groups"] = [list(group) for group in self.groups]
        if self.unless_known:
            record["unless_known"] = list(self.unless_known)
        return record

    @classmethod
    def from_record(cls, record: Mapping[str, Any]) -> Rule:
        """A rule from JSON-able data. Raises RuleError with a sentence."""
        if not isinstance(record, Mapping):
            raise RuleError(f"A rule is a set of named values, not {record!r}.")
        names = [field.name for field in fields(cls)]
        strange = sorted(str(name) for name in record if name not in names)
        if strange:
            raise RuleError(f"A rule has no “{strange[0]}”. It may have: {', '.join(names)}.")
        if "attribute" not in record:
            raise RuleError("The rule does not say which attribute it compares.")
        for name in ("groups", "unless_known"):
            _check_list(name, record.get(name, ()), nested=name == "groups")
        return cls(**record)


def rules_as_records(rules: Iterable[Rule]) -> list[dict[str, Any]]:
    """Rules as JSON-able data, in their order."""
    return [rule.as_record() for rule in rules]


def rules_from_records(records: Iterable[Mapping[str, Any]]) -> tuple[Rule, ...]:
    """Rules from JSON-able data. Raises RuleError that names the rule by its number, from 1."""
    if isinstance(records, (str, bytes, Mapping)) or not isinstance(records, Iterable):
        raise RuleError(f"Rules are a list, not {records!r}.")
    rules: list[Rule] = []
    for number, record in enumerate(records, start=1):
        try:
            rule = Rule.from_record(record)
        except RuleError as error:
            raise RuleError(f"Rule {number}: {error}") from error
        if any(_same_question(rule, earlier) for earlier in rules):
            raise RuleError(f"Rule {number}: {rule.label} is compared in this way already by an earlier rule.")
        rules.append(rule)
    return tuple(rules)


def with_aliases(rules: Iterable[Rule], names: Iterable[Collection[str]]) -> tuple[Rule, ...]:
    """The same rules, with the families' aliases counted as one: each set of names is one family.

    >>> with_aliases([Rule("family", comparator=Comparator.ONE_OF)], [["Alder", "Alder II"]])[0].groups
    (('Alder', 'Alder II'),)
    """
    groups = tuple(tuple(group) for group in names)
    return tuple(
        replace(rule, groups=groups) if (rule.attribute, rule.comparator) == ("family", Comparator.ONE_OF) else rule
        for rule in rules
    )


def _member(kind: type[StrEnum], value: Any, name: str) -> StrEnum:
    try:
        return kind(value)
    except ValueError:
        raise RuleError(f"“{value}” is no {name}. Choose one of: {', '.join(kind)}.") from None


def _check_attribute(rule: Rule) -> None:
    for name in (rule.attribute, *rule.unless_known):
        if name not in LABELS and not (isinstance(name, str) and name.startswith("code:") and name[5:].strip()):
            raise RuleError(f"There is no attribute “{name}”. Name one of Traits, or code:NAME for a label code.")
    allowed = _ONLY_FOR.get(rule.comparator)
    if allowed is not None and rule.attribute not in allowed:
        raise RuleError(f"“{rule.comparator}” compares {', '.join(sorted(allowed))}, not {rule.attribute}.")
    if rule.comparator in _TEXT_ONLY and rule.attribute in _NOT_TEXT:
        raise RuleError(f"“{rule.comparator}” compares text, and {rule.attribute} is not text.")


def _check_figures(rule: Rule) -> None:
    if not _is_number(rule.weight) or not 0 < rule.weight <= 1000:
        raise RuleError(f"The weight of {rule.attribute} is {rule.weight!r}; it must be a number from above 0 to 1000.")
    if isinstance(rule.start, bool) or not isinstance(rule.start, int) or rule.start < 1:
        raise RuleError(f"The first character that counts is {rule.start!r}; it must be 1 or more.")
    if not isinstance(rule.why, str):
        raise RuleError(f"The reason of {rule.attribute} must be text.")
    match rule.comparator:
        case Comparator.PREFIX:
            _check_limit(rule, "how many characters count", least=1, whole=True)
        case Comparator.DAYS:
            _check_limit(rule, "how many days apart still count", least=0, whole=True)
        case Comparator.VECTOR:
            _check_limit(rule, "the tolerance", least=0, whole=False)
        case Comparator.HEADS if rule.limit is not None:
            _check_limit(rule, "how many needed heads may be dead", least=0, whole=True)
        case Comparator.HEADS:
            pass
        case _ if rule.limit is not None:
            raise RuleError(f"“{rule.comparator}” takes no limit.")


def _check_limit(rule: Rule, what: str, *, least: int, whole: bool) -> None:
    limit = rule.limit
    if limit is None:
        raise RuleError(f"“{rule.comparator}” of {rule.attribute} needs its limit: {what}.")
    if not _is_number(limit) or limit < least or (whole and limit != int(limit)):
        kind = "a whole number" if whole else "a number"
        raise RuleError(f"The limit of {rule.attribute} ({what}) is {limit!r}; it must be {kind} of {least} or more.")


def _check_groups(groups: tuple[tuple[str, ...], ...]) -> None:
    seen: set[str] = set()
    for group in groups:
        names = {fold(name) for name in group if isinstance(name, str)}
        if len(names) < 1 or not all(isinstance(name, str) and name.strip() for name in group):
            raise RuleError("Each group of names that count as one holds text only, and at least one name.")
        if names & seen:
            raise RuleError(f"“{sorted(names & seen)[0]}” stands in two groups of names that count as one.")
        seen |= names


def _check_list(name: str, value: Any, *, nested: bool = False) -> None:
    if isinstance(value, (str, bytes)) or not isinstance(value, Sequence):
        raise RuleError(f"“{name}” is a list, not {value!r}.")
    if nested:
        for group in value:
            _check_list(name, group)


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


def _same_question(a: Rule, b: Rule) -> bool:
    return (a.attribute, a.comparator, a.start) == (b.attribute, b.comparator, b.start)


def fold(text: str) -> str:
    """Text as it is compared: blanks and case do not count."""
    return "".join(text.split()).casefold()


_HEADS_KNOWN = ("heads", "head_map", "platters")
_FLASH_KNOWN = ("flash_controller", "flash_ids")
_OWN_ROM = "ROM and adaptive data are the patient's own: read them from it, or rebuild them; never take a donor's."
_MOVE_ROM = "Another main chip will not run the patient's ROM."

# Common practice in the trade, no source. The lab edits them, and may keep others for a family.
RULES: Mapping[PartKind, tuple[Rule, ...]] = MappingProxyType(
    {
        PartKind.HEAD_STACK: (
            Rule("family", Level.MUST, Comparator.ONE_OF, 10),
            Rule("head_map", Level.MUST, Comparator.HEADS, 10),
            Rule("preamplifier", Level.MUST, Comparator.EQUAL, 8),
            Rule("firmware", Level.BETTER, Comparator.PREFIX, 3, limit=2),
            Rule("plant", Level.BETTER, Comparator.EQUAL, 3),
            Rule("made", Level.BETTER, Comparator.DAYS, 3, limit=92),
            Rule("head_offsets", Level.BETTER, Comparator.VECTOR, 4, limit=10),
            Rule("sectors", Level.BETTER, Comparator.EQUAL, 1),
        ),
        PartKind.CONTROLLER_BOARD: (
            Rule("board_number", Level.MUST, Comparator.EQUAL, 10),
            Rule("main_chip", Level.MUST, Comparator.EQUAL, 8, why=_MOVE_ROM),
            Rule("board_revision", Level.BETTER, Comparator.EQUAL, 3),
            Rule("firmware", Level.BETTER, Comparator.EQUAL, 2),
        ),
        PartKind.MOTOR: (
            Rule("platters", Level.MUST, Comparator.EQUAL, 10),
            Rule("base_casting", Level.MUST, Comparator.EQUAL, 8),
            Rule("motor", Level.MUST, Comparator.EQUAL, 8),
            Rule("model", Level.BETTER, Comparator.PREFIX, 3, limit=4),
        ),
        PartKind.ROM: (Rule("serial", Level.MUST, Comparator.EQUAL, 10, why=_OWN_ROM),),
        PartKind.BRIDGE_BOARD: (
            Rule("bridge_number", Level.MUST, Comparator.EQUAL, 10),
            Rule("encryption_generation", Level.MUST, Comparator.EQUAL, 8),
        ),
        PartKind.CONNECTOR: (
            Rule("interface", Level.MUST, Comparator.EQUAL, 10),
            Rule("board_number", Level.BETTER, Comparator.EQUAL, 3),
        ),
        PartKind.FLASH_CONTROLLER: (
            Rule("flash_controller", Level.MUST, Comparator.EQUAL, 10),
            Rule("flash_ids", Level.MUST, Comparator.EQUAL, 8),
            Rule("channels", Level.MUST, Comparator.EQUAL, 6),
            Rule("firmware", Level.BETTER, Comparator.EQUAL, 4),
        ),
        PartKind.CHIP: (
            Rule("main_chip", Level.MUST, Comparator.EQUAL, 10),
            Rule("board_number", Level.BETTER, Comparator.EQUAL, 3),
        ),
        PartKind.WHOLE_TWIN: (
            Rule("model", Level.MUST, Comparator.EQUAL, 8),
            Rule("sectors", Level.MUST, Comparator.EQUAL, 6),
            Rule("family", Level.MUST, Comparator.ONE_OF, 6, unless_known=_FLASH_KNOWN),
            Rule("head_map", Level.MUST, Comparator.HEADS, 6, unless_known=_FLASH_KNOWN),
            Rule("flash_controller", Level.MUST, Comparator.EQUAL, 6, unless_known=_HEADS_KNOWN),
            Rule("flash_ids", Level.MUST, Comparator.EQUAL, 4, unless_known=_HEADS_KNOWN),
            Rule("firmware", Level.BETTER, Comparator.EQUAL, 3),
            Rule("plant", Level.BETTER, Comparator.EQUAL, 1),
        ),
    }
)

CAUTIONS: Mapping[PartKind, str] = MappingProxyType(
    {
        PartKind.HEAD_STACK: "Heads often serve once: test the donor and save its ROM and service area first.",
        PartKind.CONTROLLER_BOARD: (
            "The patient's own ROM must move across, as a chip or as its content. "
            "Check the patient's preamplifier for a short first: it kills a donor board too."
        ),
        PartKind.ROM: _OWN_ROM,
        PartKind.WHOLE_TWIN: "A twin is for learning and testing: nothing of it is written to the patient.",
    }
)
