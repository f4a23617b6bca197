"""Which rules count now: the lab's own for a family, else its own for the part, else those it began with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Max

from labcases.stock.models import Family, RuleSet
from labcases.stock.rules import RULES, PartKind, Rule

DEFAULTS = "the rules every lab begins with"


@dataclass(frozen=True)
class RuleBook:
    """Rules and what they are called; an assignment keeps the name of those it was judged by."""

    rules: tuple[Rule, ...]
    name: str
    version: int = 0


@dataclass(frozen=True)
class RuleBooks:
    """Every rule set that counts now, read once."""

    newest: Mapping[tuple[str, int | None], RuleSet]

    def of(self, part: PartKind | str, family: Family | int | None) -> RuleBook:
        """The rules for one kind of part; of the patient's family where the lab keeps its own for it."""
        family_id = family.pk if isinstance(family, Family) else family
        for key in ((str(part), family_id), (str(part), None)):
            found = self.newest.get(key)
            if found is not None and (rules := found.as_rules) is not None:
                return RuleBook(rules, str(found), found.version)
        return RuleBook(RULES[PartKind(part)], DEFAULTS)

    def version(self, part: str, family_id: int | None) -> int:
        """The number of the newest version, 0 when there is none: what an editor has seen."""
        found = self.newest.get((part, family_id))
        return found.version if found else 0


def rule_books() -> RuleBooks:
    """In one query."""
    newest = RuleSet.objects.order_by().values("part", "family").annotate(newest=Max("pk")).values("newest")
    rows: Any = RuleSet.objects.filter(pk__in=newest).select_related("family", "by")
    return RuleBooks({(row.part, row.family_id): row for row in rows})


def rules_for(part: PartKind | str, family: Family | int | None) -> RuleBook:
    """The rules that count for one kind of part and the patient's family."""
    return rule_books().of(part, family)
