"""What must match is data: the lab edits it, and every version stays."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right
from labcases.stock.actions.refusals import Changed
from labcases.stock.models import Family, LabelCode, RuleSet
from labcases.stock.rules import PartKind, Rule, RuleError, rules_as_records, rules_from_records


@recorded
def keep_rules(
    *,
    part: str,
    family: Family | None,
    rules: Sequence[Rule] | None,
    seen: int,
    by: Actor,
    happened: datetime,
    because: str = "",
) -> RuleSet:
    """A new version of the rules for one kind of part, for a family or for all; None goes back to what was before.

    Assignments made already keep the verdict they were made with. ``seen`` is the version the editor started from.
    Raises Changed when there is a newer one, RuleError for rules that cannot be meant together.
    """
    by.must(Right.KEEP_LAB)
    kind = PartKind(part)
    if rules is not None and not rules:
        raise RuleError("At least one rule is needed: a part with none would fit every patient.")
    records = None if rules is None else rules_as_records(rules_from_records(rules_as_records(rules)))
    last = RuleSet.objects.filter(part=kind, family=family).first()
    if (last.version if last else 0) != seen:
        raise Changed(f"The rules for {last or kind} were changed after this page was opened.", mend="Open it again.")
    made = RuleSet.objects.create(
        part=kind, family=family, version=seen + 1, rules=records, because=because, **Entry.stamp(by, happened)
    )
    said = f"{made}: {'back to what they were at first' if rules is None else f'{len(rules)} rules'}"
    record("rules-changed", thing=None, by=by, happened=happened, because=f"{said}. {because}".strip())
    return made


@recorded
def keep_label_code(
    *, name: str, stands: str, by: Actor, happened: datetime, in_use: bool = True, code: LabelCode | None = None
) -> LabelCode:
    """Name a code on labels that the lab compares, or say again where it stands. Rules then compare it by its name."""
    by.must(Right.KEEP_LAB)
    code = code or LabelCode(name=" ".join(name.split()).upper(), **Entry.stamp(by, happened))
    code.stands, code.in_use = stands, in_use
    code.save()
    record("rules-changed", thing=None, by=by, happened=happened, because=f"label code {code}, {stands}".rstrip(", "))
    return code
