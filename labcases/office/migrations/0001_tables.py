import django.db.models.deletion
import django.db.models.expressions
import labcases.core.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    replaces = [("office", "0001_first"), ("office", "0002_clock")]

    initial = True

    dependencies = [
        ("cases", "0001_tables"),
        ("lab", "__first__"),
    ]

    operations = [
        migrations.CreateModel(
            name="Payment",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("amount", models.BigIntegerField(help_text="minor units")),
                ("currency", labcases.core.models.Line(max_length=3, personal=False)),
                (
                    "method",
                    labcases.core.models.Line(
                        choices=[("cash", "cash"), ("card", "card"), ("transfer", "transfer"), ("other", "other")],
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("note", labcases.core.models.Line(blank=True, max_length=300, personal=True)),
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
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="payments", to="cases.case"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("amount", 0), _negated=True),
                        name="payment_is_not_zero",
                        violation_error_message="A payment is not zero.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Quote",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("number", models.PositiveSmallIntegerField(help_text="counts within the case")),
                (
                    "state",
                    labcases.core.models.Line(
                        choices=[
                            ("sent", "waits for an answer"),
                            ("accepted", "accepted"),
                            ("declined", "declined"),
                            ("superseded", "superseded"),
                        ],
                        default="sent",
                        max_length=12,
                        personal=False,
                    ),
                ),
                ("lines", models.JSONField(help_text="[{words, amount}], amounts in minor units, before tax")),
                ("tax_rate", models.PositiveIntegerField(default=0, help_text="basis points: 2000 is 20 %")),
                ("net", models.PositiveBigIntegerField()),
                ("tax", models.PositiveBigIntegerField()),
                ("total", models.PositiveBigIntegerField()),
                ("currency", labcases.core.models.Line(max_length=3, personal=False)),
                (
                    "success",
                    labcases.core.models.Prose(
                        blank=True, help_text="which of the wanted things count as success", personal=True
                    ),
                ),
                ("valid_until", models.DateField()),
                ("answered", models.DateTimeField(blank=True, null=True)),
                ("answer_by", labcases.core.models.Line(blank=True, max_length=300, personal=True)),
                ("answer_how", labcases.core.models.Line(blank=True, max_length=300, personal=True)),
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
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="quotes", to="cases.case"
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("case", "number"),
                        name="quote_number_once_per_case",
                        violation_error_message="A quote of this number is in the case already.",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("state__in", ["sent", "accepted"])),
                        fields=("case",),
                        name="one_standing_quote_per_case",
                        violation_error_message="A case has one standing quote; the earlier one is superseded first.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "total",
                                django.db.models.expressions.CombinedExpression(models.F("net"), "+", models.F("tax")),
                            )
                        ),
                        name="quote_adds_up",
                        violation_error_message="Net and tax add up to the total.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("state__in", ["sent", "superseded"]),
                            models.Q(("answered__isnull", False), models.Q(("answer_by", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="answered_quote_says_who_and_when",
                        violation_error_message="An answer to a quote says who gave it and when.",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Settlement",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "how",
                    labcases.core.models.Line(
                        choices=[("account", "put on account"), ("waived", "waived")], max_length=10, personal=False
                    ),
                ),
                ("amount", models.PositiveBigIntegerField(help_text="minor units")),
                ("currency", labcases.core.models.Line(max_length=3, personal=False)),
                ("because", labcases.core.models.Prose(personal=True)),
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
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="settlements", to="cases.case"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("because", ""), _negated=True),
                        name="settlement_has_reason",
                        violation_error_message="Say why, in a few words.",
                    )
                ],
            },
        ),
    ]
