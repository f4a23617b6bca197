"""A case of former books: closed long before it came in here."""

from __future__ import annotations

from django.db import models

from labcases.core.models import Line


class OldRecord(models.Model):
    """That a case is an old record, and the number it had in the former books."""

    case = models.OneToOneField("cases.Case", on_delete=models.CASCADE, related_name="old_record")
    number = Line(personal=False, max_length=60)
    folded = Line(personal=False, max_length=60, db_index=True, help_text="the number as it is looked for")

    def __str__(self) -> str:
        return self.number
