"""What parts and media share: which patient a row serves now; and columns that are compared as labels are."""

from __future__ import annotations

from typing import Any

from django.db.models import CharField, F, GeneratedField, OuterRef, Subquery, Value
from django.db.models.functions import Lower, Replace

SEPARATORS = " -._/,:#*+()\N{EN DASH}\N{NON-BREAKING HYPHEN}"  # what stands between groups on labels


def serving(assignments: Any, name: str) -> Subquery:
    """The code of the patient of the standing assignment of a row."""
    standing = assignments.objects.filter(**{name: OuterRef("pk")}, ended=None)
    return Subquery(standing.order_by().values("item__thing__code")[:1])


def key_of(name: str, *, indexed: bool = False) -> Any:
    """A column that the database fills itself: another one in small letters, without what separates groups on labels.

    It is blank where the other says nothing. A database folds case in ASCII only.
    """
    bare: Any = F(name)
    for mark in SEPARATORS:
        bare = Replace(bare, Value(mark), Value(""))
    return GeneratedField(
        expression=Lower(bare), output_field=CharField(max_length=100), db_persist=True, db_index=indexed
    )
