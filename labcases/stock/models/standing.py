"""What parts and media share: which patient a row serves now."""

from __future__ import annotations

from typing import Any

from django.db.models import OuterRef, Subquery


def serving(assignments: Any, name: str) -> Subquery:
    """The code of the patient of the standing assignment of a row."""
    standing = assignments.objects.filter(**{name: OuterRef("pk")}, ended=None)
    return Subquery(standing.order_by().values("item__thing__code")[:1])
