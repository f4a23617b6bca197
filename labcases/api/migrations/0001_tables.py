import django.db.models.deletion
import labcases.core.models
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    replaces = [("api", "0001_first")]

    initial = True

    dependencies = [
        ("bench", "0001_tables"),
        ("lab", "__first__"),
    ]

    operations = [
        migrations.CreateModel(
            name="BenchComputer",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "ref",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, help_text="how the ledger calls it", unique=True
                    ),
                ),
                ("name", labcases.core.models.Line(max_length=100, personal=False)),
                (
                    "digest",
                    labcases.core.models.Line(
                        help_text="SHA-256 of its token, hex; the token has 256 random bits",
                        max_length=64,
                        personal=False,
                        unique=True,
                    ),
                ),
                (
                    "begins",
                    labcases.core.models.Line(
                        help_text="how its token begins, to know it by", max_length=12, personal=False
                    ),
                ),
                ("scopes", models.JSONField(default=list, help_text="what it may do, of api/scopes.py")),
                ("last_used", models.DateTimeField(null=True)),
                ("revoked", models.DateTimeField(null=True)),
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
                "ordering": ["name", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("revoked", None)),
                        fields=("name",),
                        name="one_bench_computer_of_a_name",
                        violation_error_message="A bench computer of this name is admitted already.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Knock",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "address",
                    labcases.core.models.Line(help_text="where the request came from", max_length=45, personal=True),
                ),
                ("since", models.DateTimeField()),
                ("count", models.PositiveIntegerField(default=0)),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("address", "since"),
                        name="one_count_of_knocks",
                        violation_error_message="Knocks of this address and time are counted already.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Sent",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("key", models.UUIDField()),
                (
                    "content",
                    labcases.core.models.Line(help_text="SHA-256 of what was sent, hex", max_length=64, personal=False),
                ),
                ("result", models.JSONField(default=dict, help_text="what was answered")),
                ("when", models.DateTimeField(default=labcases.core.models.now)),
                (
                    "computer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="sent", to="api.benchcomputer"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("computer", "key"),
                        name="sent_once_under_a_key",
                        violation_error_message="This key was used already.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Transfer",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("key", models.UUIDField()),
                ("begun", models.DateTimeField(default=labcases.core.models.now)),
                (
                    "finished_as",
                    labcases.core.models.Line(
                        blank=True, help_text="SHA-256 over how it was finished, hex", max_length=64, personal=False
                    ),
                ),
                (
                    "computer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="transfers", to="api.benchcomputer"
                    ),
                ),
                (
                    "item",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="transfers", to="cases.item"
                    ),
                ),
                (
                    "upload",
                    models.OneToOneField(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="transfer",
                        to="bench.coverageupload",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("computer", "key"),
                        name="one_transfer_under_a_key",
                        violation_error_message="A transfer has this key already.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="TransferPart",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.PositiveIntegerField(help_text="counts from 1")),
                (
                    "digest",
                    labcases.core.models.Line(
                        help_text="SHA-256 of its bytes, unpacked, hex", max_length=64, personal=False
                    ),
                ),
                ("size", models.PositiveBigIntegerField()),
                ("kind", labcases.core.models.Line(help_text="media type", max_length=30, personal=False)),
                ("offset", models.PositiveBigIntegerField(help_text="bytes before it, as the sender said", null=True)),
                ("came", models.DateTimeField(default=labcases.core.models.now)),
                (
                    "transfer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="parts", to="api.transfer"
                    ),
                ),
            ],
            options={
                "ordering": ["number"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("transfer", "number"),
                        name="one_part_of_a_number",
                        violation_error_message="This part is there already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("number__gte", 1)),
                        name="parts_count_from_one",
                        violation_error_message="Parts are counted from 1.",
                    ),
                ],
            },
        ),
    ]
