"""What the database can leave out before anything is judged: where a must is known of both, and differs.

Unknown and near are kept. The columns it looks at are folded and indexed by the database itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import Case, IntegerField, Q, Value, When

from labcases.cases.models import Item
from labcases.core.text import folded_serial
from labcases.custody.models.medium import WRITTEN
from labcases.stock.models import Family
from labcases.stock.models.standing import SEPARATORS
from labcases.stock.rules import Comparator, Level, Rule, fold

_TEXTS = frozenset(WRITTEN) - {"kind"}
_NUMBERS = frozenset({"sectors", "heads", "platters", "channels"})


def not_known_to_differ(item: Item, rules: Sequence[Rule]) -> Q:
    """Parts that no must excludes, as far as the database can tell."""
    kept = Q()
    for rule in rules:
        if rule.level is Level.MUST and (alike := _alike(item, rule, or_unknown=True)):
            kept &= alike
    return kept


def by_likeness(parts: Any, item: Item, rules: Sequence[Rule]) -> Any:
    """The likeliest first, so that what is not judged where there is too much is the least like it."""
    score: Any = Value(0)
    for rule in rules:
        if alike := _alike(item, rule, or_unknown=False):
            weight = Value(int(rule.weight))
            score = score + Case(When(alike, then=weight), default=Value(0), output_field=IntegerField())
    return parts.annotate(likeness=score).order_by("-likeness", "pk")


def _alike(item: Item, rule: Rule, *, or_unknown: bool) -> Q | None:
    """The condition under which this rule finds both values the same or near; None where SQL cannot say."""
    name, value = rule.attribute, getattr(item, rule.attribute, None)
    if not value:
        return None
    if name == "family" and rule.comparator is Comparator.ONE_OF:
        alike = Q(donor__family__in=_families_alike(str(value), rule))
        return alike | Q(donor__family=None) if or_unknown else alike
    if rule.comparator is not Comparator.EQUAL:
        return None
    if name in _NUMBERS:
        alike = Q(**{f"donor__{name}": value})
        return alike | Q(**{f"donor__{name}": None}) if or_unknown else alike
    return _same_text(name, str(value), or_unknown=or_unknown)


def _same_text(name: str, value: str, *, or_unknown: bool) -> Q | None:
    bare = "".join(character for character in fold(value) if character not in SEPARATORS)
    # A database folds case in ASCII only, and odd marks are not looked for: such values are judged one by one.
    if name not in _TEXTS or not (bare.isascii() and bare.isalnum()):
        return None
    return Q(**{f"donor__{name}_key__in": [bare, ""] if or_unknown else [bare]})


def _families_alike(name: str, rule: Rule) -> list[int]:
    """Families of this name, however it is written, and those whose names count as one with it: they are few."""
    names = {folded_serial(name)}
    for group in rule.groups:
        folded = {folded_serial(one) for one in group}
        names |= folded if folded & names else set()
    return [pk for pk, other in Family.objects.order_by().values_list("pk", "name") if folded_serial(other) in names]
