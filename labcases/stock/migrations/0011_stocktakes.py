import django.db.models.deletion
import labcases.core.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("custody", "0006_came_with_a_batch"),
        ("lab", "0003_clock"),
        ("stock", "0010_storage_pools"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Stocktake",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "words",
                    labcases.core.models.Line(blank=True, help_text="what it is for", max_length=100, personal=False),
                ),
                (
                    "state",
                    labcases.core.models.Line(
                        choices=[("open", "open"), ("signed off", "signed off"), ("dropped", "dropped")],
                        default="open",
                        max_length=12,
                        personal=False,
                    ),
                ),
                ("ended", models.DateTimeField(blank=True, null=True)),
                ("ended_role", labcases.core.models.Line(blank=True, max_length=20, personal=False)),
                (
                    "because",
                    labcases.core.models.Prose(
                        blank=True, help_text="what whoever signed it said, or why it was dropped", personal=False
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
                (
                    "ended_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("places", models.ManyToManyField(related_name="stocktakes", to="lab.place")),
            ],
            options={
                "ordering": ["-pk"],
            },
        ),
        migrations.CreateModel(
            name="TakeLine",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "code",
                    labcases.core.models.Line(
                        help_text="folded; or what was read, when it is no code of ours", max_length=40, personal=False
                    ),
                ),
                (
                    "outcome",
                    labcases.core.models.Line(
                        choices=[
                            ("expected", "expected, not found yet"),
                            ("found", "found"),
                            ("misplaced", "found on another shelf"),
                            ("unexpected", "not expected here"),
                            ("unknown", "unknown code"),
                        ],
                        max_length=12,
                        personal=False,
                    ),
                ),
                ("counted", models.DateTimeField(null=True)),
                (
                    "answer",
                    labcases.core.models.Line(
                        blank=True,
                        choices=[
                            ("here", "lies here now"),
                            ("back", "carried back to where it belongs"),
                            ("missing", "missing"),
                            ("noted", "noted"),
                        ],
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("because", labcases.core.models.Prose(blank=True, personal=False)),
                (
                    "counted_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "expected_at",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="lab.place"
                    ),
                ),
                (
                    "found_at",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="lab.place"
                    ),
                ),
                (
                    "take",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="lines", to="stock.stocktake"
                    ),
                ),
                (
                    "thing",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="custody.thing"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.AddConstraint(
            model_name="stocktake",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("ended", None), ("state", "open")),
                    models.Q(models.Q(("state", "open"), _negated=True), ("ended__isnull", False)),
                    _connector="OR",
                ),
                name="stocktake_that_is_over_says_when",
                violation_error_message="A stocktake that was signed off or dropped says when.",
            ),
        ),
        migrations.AddIndex(
            model_name="takeline",
            index=models.Index(fields=["take", "outcome"], name="take_line_by_outcome"),
        ),
        migrations.AddConstraint(
            model_name="takeline",
            constraint=models.UniqueConstraint(
                fields=("take", "code"),
                name="code_once_per_stocktake",
                violation_error_message="This code was counted already.",
            ),
        ),
        migrations.AddConstraint(
            model_name="takeline",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("counted", None), ("found_at", None), ("outcome", "expected")),
                    models.Q(
                        models.Q(("outcome", "expected"), _negated=True),
                        ("counted__isnull", False),
                        ("found_at__isnull", False),
                    ),
                    _connector="OR",
                ),
                name="counted_line_says_where_and_when",
                violation_error_message="What is counted says where and when.",
            ),
        ),
        migrations.AddConstraint(
            model_name="takeline",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        ("expected_at__isnull", False),
                        ("outcome__in", ["expected", "found", "misplaced"]),
                        ("thing__isnull", False),
                    ),
                    models.Q(("expected_at", None), ("outcome__in", ["unexpected", "unknown"])),
                    _connector="OR",
                ),
                name="take_line_was_expected_or_not",
                violation_error_message="What was expected has a place where the book says it lies.",
            ),
        ),
    ]
