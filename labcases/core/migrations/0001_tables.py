import django.db.models.deletion
import labcases.core.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    replaces = [("core", "0001_first"), ("core", "0002_column_layouts"), ("core", "0003_batches")]

    initial = True

    dependencies = [
        ("lab", "__first__"),
    ]

    operations = [
        migrations.CreateModel(
            name="Batch",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("shown", models.DateTimeField(blank=True, db_index=True, null=True)),
            ],
        ),
        migrations.CreateModel(
            name="ColumnLayout",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("purpose", labcases.core.models.Line(max_length=60, personal=False)),
                (
                    "signature",
                    labcases.core.models.Line(help_text="SHA-256 over the headers", max_length=64, personal=False),
                ),
                (
                    "mapping",
                    models.JSONField(
                        help_text="field to column, counted from 0; fields that were left out are missing"
                    ),
                ),
                ("changed", models.DateTimeField(auto_now=True)),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("purpose", "signature"),
                        name="column_layout_once",
                        violation_error_message="These headers are remembered already.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="OneTimeKey",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("key", models.UUIDField()),
                ("verb", labcases.core.models.Line(max_length=60, personal=False)),
                (
                    "content",
                    labcases.core.models.Line(help_text="SHA-256 of what was sent", max_length=64, personal=False),
                ),
                (
                    "result",
                    labcases.core.models.Line(help_text="address of what was made", max_length=500, personal=False),
                ),
                ("sent", models.DateTimeField(auto_now_add=True)),
                ("person", models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, to=settings.AUTH_USER_MODEL)),
            ],
            options={
                "indexes": [models.Index(fields=["sent"], name="one_time_key_sent")],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("key", "person", "verb"),
                        name="one_time_key_once",
                        violation_error_message="This form was already sent.",
                    )
                ],
            },
        ),
    ]
