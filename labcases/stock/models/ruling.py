"""What must match for which part, as the lab has it; and the codes on labels that it compares."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.urls import reverse

from labcases.core.models import Line, Prose
from labcases.lab.models import Entry
from labcases.stock.models.families import Family
from labcases.stock.rules import RULES, PartKind, Rule, rules_from_records

KINDS = [(kind.value, kind.value) for kind in PartKind]


class RuleSet(Entry):
    """The rules for one kind of part, for one family or for all. The newest version counts; none is ever changed."""

    part = Line(personal=False, max_length=30, choices=KINDS)
    family = models.ForeignKey(Family, null=True, blank=True, on_delete=models.PROTECT, related_name="rule_sets")
    version = models.PositiveIntegerField()
    rules = models.JSONField(null=True, blank=True, help_text="None: back to what they were before the lab had its own")
    because = Prose(personal=False, blank=True)

    class Meta:
        ordering = ["-version"]
        constraints = [
            models.UniqueConstraint(
                fields=["part", "family", "version"],
                name="rules_version_once_per_family",
                violation_error_message="Somebody else changed these rules at the same moment. Look again.",
            ),
            models.UniqueConstraint(
                fields=["part", "version"],
                condition=Q(family=None),
                name="rules_version_once",
                violation_error_message="Somebody else changed these rules at the same moment. Look again.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.whose}, version {self.version}"

    def get_absolute_url(self) -> str:
        place = reverse("stock:rules-of", args=[self.part])
        return f"{place}?family={self.family_id}" if self.family_id else place

    @property
    def whose(self) -> str:
        return f"{self.part} of {self.family}" if self.family else self.part

    @property
    def as_rules(self) -> tuple[Rule, ...] | None:
        """The rules; None when this version goes back to what stood before."""
        return None if self.rules is None else rules_from_records(self.rules)

    @property
    def shown_rules(self) -> tuple[Rule, ...]:
        return self.as_rules or RULES[PartKind(self.part)]


class LabelCode(Entry):
    """A code on a label that the lab compares: matching names it ``code:NAME``, whole or by its position."""

    name = Line(personal=False, max_length=40, unique=True)
    stands = Line(personal=False, max_length=200, blank=True, help_text="on which label it stands, and where")
    in_use = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return str(self.name)
