import django.db.models.deletion
import labcases.core.importing
import labcases.core.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    replaces = [("imports", "0001_first"), ("imports", "0002_lines_begin")]

    initial = True

    dependencies = [
        ("core", "0001_tables"),
        ("lab", "__first__"),
    ]

    operations = [
        migrations.CreateModel(
            name="Import",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("kind", labcases.core.models.Line(max_length=30, personal=False)),
                ("name", labcases.core.models.Line(help_text="of the file", max_length=200, personal=True)),
                (
                    "file",
                    labcases.core.models.Line(
                        blank=True,
                        help_text="digest of the file as it came, in the vault",
                        max_length=64,
                        personal=True,
                    ),
                ),
                (
                    "lines",
                    labcases.core.models.Line(
                        blank=True,
                        help_text="digest of its rows, one a line, in the vault",
                        max_length=64,
                        personal=True,
                    ),
                ),
                ("sheet", labcases.core.models.Line(blank=True, max_length=100, personal=False)),
                ("header_row", models.PositiveIntegerField(default=0, help_text="0: found by itself")),
                ("headers", models.JSONField(default=list)),
                ("mapping", models.JSONField(default=dict, help_text="field to column, counted from 0")),
                (
                    "state",
                    labcases.core.models.Line(
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
                ("skip_refused", models.BooleanField(default=False)),
                (
                    "reached",
                    models.PositiveBigIntegerField(
                        default=0, help_text="where the next chunk begins: a byte of the rows, later the key of a thing"
                    ),
                ),
                ("done", models.PositiveIntegerField(default=0, help_text="rows behind us in this step")),
                ("total", models.PositiveIntegerField(default=0)),
                ("event", models.PositiveBigIntegerField(help_text="the event that records it", null=True)),
                (
                    "said",
                    labcases.core.models.Prose(
                        blank=True, help_text="why it stopped, or what stands against undoing it", personal=True
                    ),
                ),
                ("ended", models.DateTimeField(null=True)),
                (
                    "batch",
                    models.OneToOneField(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="core.batch"
                    ),
                ),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
                "indexes": [models.Index(fields=["state"], name="import_by_state")],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state__in", ["entering", "shown"]), _negated=True),
                            ("event__isnull", False),
                            _connector="OR",
                        ),
                        name="shown_import_is_recorded",
                        violation_error_message="An import that is taken in is in the ledger.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="ImportRow",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.PositiveIntegerField(help_text="as the spreadsheet shows it")),
                (
                    "fate",
                    labcases.core.models.Line(
                        choices=[
                            (labcases.core.importing.Fate["NEW"], labcases.core.importing.Fate["NEW"]),
                            (labcases.core.importing.Fate["CHANGES"], labcases.core.importing.Fate["CHANGES"]),
                            (labcases.core.importing.Fate["SAME"], labcases.core.importing.Fate["SAME"]),
                            (labcases.core.importing.Fate["REFUSED"], labcases.core.importing.Fate["REFUSED"]),
                        ],
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("because", labcases.core.models.Prose(blank=True, personal=True)),
                (
                    "key",
                    labcases.core.models.Line(
                        blank=True, help_text="what no other row of the table may have", max_length=120, personal=False
                    ),
                ),
                ("target", models.BigIntegerField(help_text="the row of the lab that it speaks of", null=True)),
                (
                    "seen",
                    models.PositiveBigIntegerField(
                        default=0, help_text="its last event: when checked, later when changed"
                    ),
                ),
                ("changes", models.JSONField(help_text="what it says now, by field", null=True)),
                ("before", models.JSONField(help_text="what stood there before it was changed", null=True)),
                (
                    "table",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="rows", to="imports.import"
                    ),
                ),
            ],
            options={
                "ordering": ["number"],
                "indexes": [
                    models.Index(fields=["table", "fate", "number"], name="import_row_by_fate"),
                    models.Index(
                        condition=models.Q(("key", ""), _negated=True),
                        fields=["table", "key"],
                        name="import_row_by_key",
                    ),
                ],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("table", "number"),
                        name="import_row_once",
                        violation_error_message="This row of the table was judged already.",
                    )
                ],
            },
        ),
    ]
