"""Imports that were taken in before lines began with an event are gone through once more by the worker."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import migrations, models

from labcases.core.models import Line


def enter(apps: Any, editor: Any) -> None:
    tables = apps.get_model("imports", "Import").objects
    tables.filter(state="shown").update(state="entering", reached=0, done=0)


def leave(apps: Any, editor: Any) -> None:
    apps.get_model("imports", "Import").objects.filter(state="entering").update(state="shown")


class Migration(migrations.Migration):
    dependencies = [
        ("core", "0003_batches"),
        ("imports", "0001_first"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name="import",
            name="shown_import_is_recorded",
        ),
        migrations.AlterField(
            model_name="import",
            name="reached",
            field=models.PositiveBigIntegerField(
                default=0, help_text="where the next chunk begins: a byte of the rows, later the key of a thing"
            ),
        ),
        migrations.AlterField(
            model_name="import",
            name="state",
            field=Line(
                choices=[
                    ("columns", "columns to choose"),
                    ("checking", "being checked"),
                    ("checked", "checked, not taken in"),
                    ("applying", "being taken in"),
                    ("entering", "taken in, being entered in the ledger"),
                    ("shown", "taken in"),
                    ("stopping", "being put back"),
                    ("stopped", "stopped, nothing taken in"),
                    ("undoing", "being undone"),
                    ("undone", "undone"),
                    ("left", "left alone"),
                ],
                default="columns",
                max_length=10,
                personal=False,
            ),
        ),
        migrations.AddConstraint(
            model_name="import",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("state__in", ["entering", "shown"]), _negated=True),
                    ("event__isnull", False),
                    _connector="OR",
                ),
                name="shown_import_is_recorded",
                violation_error_message="An import that is taken in is in the ledger.",
            ),
        ),
        migrations.RunPython(enter, leave),
    ]
