"""The rules of one kind of part, a row each; a row without an attribute counts for nothing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from django import forms

from labcases.core.forms import HappenedField, LabForm, LineField
from labcases.stock.models import LabelCode
from labcases.stock.rules import LABELS, Comparator, Level, Rule, RuleError, rules_from_records

MORE_ROWS = 3
MOST_ROWS = 60
PER_ROW = ("attribute", "level", "comparator", "weight", "limit", "start", "why", "groups", "unless_known")
LEVELS = [(level.value, level.value) for level in Level]
COMPARATORS = [(one.value, one.value) for one in Comparator]
NUMBER = {"inputmode": "decimal", "class": "code", "size": "5"}
WORDS = {"size": "17"}


def groups_in_words(groups: Iterable[Iterable[str]]) -> str:
    """Names that count as one, as they are typed: A = B = C; D = E."""
    return "; ".join(" = ".join(group) for group in groups)


def groups_said(text: str) -> list[list[str]]:
    """What was typed as names that count as one."""
    groups = [[name.strip() for name in part.split("=") if name.strip()] for part in text.split(";")]
    return [group for group in groups if group]


class RulesForm(LabForm):
    """A row a rule, and a few empty ones below. ``rules`` are those it starts with."""

    seen = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    rows = forms.IntegerField(widget=forms.HiddenInput, min_value=0, max_value=MOST_ROWS)
    because = LineField(label="Why", required=False, max_length=500, help_text="Stays with this version.")
    happened = HappenedField()

    def __init__(self, *args: Any, rules: Sequence[Rule], seen: int, **kwargs: Any) -> None:
        self.count = min(len(rules) + MORE_ROWS, MOST_ROWS)
        start = {"seen": seen, "rows": self.count} | _initial(rules)
        super().__init__(*args, **{**kwargs, "initial": start})
        if self.is_bound:
            self.count = _sent(self.data.get("rows"), self.count)
        names = _attributes(rules)
        for n in range(self.count):
            self.fields |= _row_fields(n, names)

    @property
    def lines(self) -> list[dict[str, Any]]:
        """The fields row by row, for the page."""
        return [{name: self[f"{n}-{name}"] for name in PER_ROW} for n in range(self.count)]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        found: list[Rule] = []
        for n in range(self.count):
            if said.get(f"{n}-attribute") and not any(f"{n}-{name}" in self.errors for name in PER_ROW):
                self._read(n, said, found)
        if not found and not self.errors:
            self.add_error(None, "At least one rule is needed: a part with none would fit every patient.")
        said["rules"] = found
        return said

    def _read(self, n: int, said: dict[str, Any], found: list[Rule]) -> None:
        try:
            rule = Rule.from_record(_record(n, said))
            rules_from_records([one.as_record() for one in (*found, rule)])
        except RuleError as wrong:
            self.add_error(f"{n}-attribute", str(wrong).removeprefix(f"Rule {len(found) + 1}: "))
        else:
            found.append(rule)


def _sent(text: Any, otherwise: int) -> int:
    return int(text) if str(text or "").isascii() and str(text).isdigit() and int(text) <= MOST_ROWS else otherwise


def _attributes(rules: Sequence[Rule]) -> list[tuple[str, str]]:
    """Every attribute that can be compared: those of a medium, and the lab's label codes."""
    named = [f"code:{name}" for name in LabelCode.objects.filter(in_use=True).values_list("name", flat=True)]
    held = [rule.attribute for rule in rules if rule.attribute.startswith("code:")]
    codes = [(name, f"Label code {name[5:]}") for name in dict.fromkeys([*named, *held])]
    return [("", "–"), *sorted(LABELS.items(), key=lambda pair: pair[1]), *codes]


def _row_fields(n: int, attributes: list[tuple[str, str]]) -> dict[str, forms.Field]:
    def aria(words: str, **attrs: str) -> dict[str, str]:
        return {"aria-label": f"Rule {n + 1}: {words}", **attrs}

    row: dict[str, forms.Field] = {
        "attribute": forms.ChoiceField(
            label=f"Rule {n + 1}",
            choices=attributes,
            widget=forms.Select(attrs=aria("what is compared")),
            required=False,
        ),
        "level": forms.ChoiceField(choices=LEVELS, widget=forms.Select(attrs=aria("must or better")), required=False),
        "comparator": forms.ChoiceField(choices=COMPARATORS, widget=forms.Select(attrs=aria("how")), required=False),
        "weight": forms.FloatField(required=False, widget=forms.TextInput(attrs=aria("weight", **NUMBER))),
        "limit": forms.FloatField(required=False, widget=forms.TextInput(attrs=aria("limit", **NUMBER))),
        "start": forms.IntegerField(required=False, widget=forms.TextInput(attrs=aria("from character", **NUMBER))),
        "why": LineField(required=False, widget=forms.TextInput(attrs=aria("why it matters", **WORDS))),
        "groups": LineField(
            required=False, max_length=2000, widget=forms.TextInput(attrs=aria("names that count as one", **WORDS))
        ),
        "unless_known": LineField(required=False, widget=forms.HiddenInput),
    }
    return {f"{n}-{name}": field for name, field in row.items()}


def _initial(rules: Sequence[Rule]) -> dict[str, Any]:
    start: dict[str, Any] = {}
    for n, rule in enumerate(rules):
        plain: dict[str, Any] = {
            name: getattr(rule, name) for name in PER_ROW if name not in ("groups", "unless_known")
        }
        plain |= {"weight": f"{rule.weight:g}", "limit": "" if rule.limit is None else f"{rule.limit:g}"}
        plain |= {"start": "" if rule.start == 1 else rule.start, "groups": groups_in_words(rule.groups)}
        plain["unless_known"] = " ".join(rule.unless_known)
        start |= {f"{n}-{name}": value for name, value in plain.items()}
    return start


def _record(n: int, said: dict[str, Any]) -> dict[str, Any]:
    row = {name: said.get(f"{n}-{name}") for name in PER_ROW}
    record = {name: value for name, value in row.items() if value not in (None, "")}
    record["groups"] = groups_said(row["groups"] or "")
    record["unless_known"] = (row["unless_known"] or "").split()
    return record


class BackForm(LabForm):
    """Back to what the rules were before the lab had its own."""

    seen = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    because = LineField(label="Why", required=False, max_length=500)
    happened = HappenedField()


class KeepLabelCodeForm(LabForm):
    """Where a label code stands, and whether it is still compared; its name stays, since labels were read by it."""

    stands = LineField(label="Where it stands", required=False, max_length=200)
    in_use = forms.BooleanField(label="in use: rules may compare it", required=False)


class LabelCodeForm(LabForm):
    """A code on labels that the lab compares."""

    name = LineField(label="Name", max_length=40, help_text="As it is written beside its value: HEAD CODE.")
    stands = LineField(label="Where it stands", required=False, max_length=200)

    def clean_name(self) -> str:
        name = str(self.cleaned_data["name"]).upper()
        if ":" in name or LabelCode.objects.filter(name=name).exists():
            raise forms.ValidationError("This name is taken." if ":" not in name else "A name has no colon.")
        return name
