import django.db.models.deletion
import labcases.core.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("cases", "0007_paper_pads"),
        ("stock", "0006_traits_rules_and_needs"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="HealthCheck",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("passed", models.BooleanField()),
                ("because", labcases.core.models.Prose(blank=True, personal=False)),
                (
                    "self_test",
                    labcases.core.models.Line(
                        blank=True,
                        choices=[
                            ("", "not run"),
                            ("passed", "passed"),
                            ("failed", "failed"),
                            ("broken off", "broken off"),
                        ],
                        max_length=12,
                        personal=False,
                    ),
                ),
                ("reallocated", models.PositiveBigIntegerField(blank=True, help_text="reallocated sectors", null=True)),
                (
                    "pending",
                    models.PositiveBigIntegerField(
                        blank=True, help_text="sectors that wait to be reallocated", null=True
                    ),
                ),
                ("hours", models.PositiveIntegerField(blank=True, help_text="powered on", null=True)),
                (
                    "tool",
                    labcases.core.models.Line(
                        blank=True, help_text="what was used, with its version", max_length=200, personal=False
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
            },
        ),
        migrations.RemoveConstraint(
            model_name="destination",
            name="destination_held_for_a_case_iff_in_its_service",
        ),
        migrations.AddField(
            model_name="destination",
            name="consent_by",
            field=labcases.core.models.Line(blank=True, help_text="who signed it", max_length=200, personal=True),
        ),
        migrations.AddField(
            model_name="destination",
            name="consent_paper",
            field=labcases.core.models.Line(
                blank=True, help_text="which signed paper, and where it is", max_length=200, personal=False
            ),
        ),
        migrations.AddField(
            model_name="destination",
            name="content",
            field=labcases.core.models.Prose(
                blank=True, help_text="what lies on a customer's own, as they say", personal=True
            ),
        ),
        migrations.AddField(
            model_name="destination",
            name="healthy",
            field=models.BooleanField(
                blank=True, help_text="its last health check; unknown when never checked", null=True
            ),
        ),
        migrations.AddField(
            model_name="destination",
            name="written",
            field=models.BooleanField(default=False, help_text="data of its case lies on it, until a wipe is verified"),
        ),
        migrations.AddField(
            model_name="wipe",
            name="ended",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="wipe",
            name="ended_because",
            field=labcases.core.models.Prose(
                blank=True, help_text="why it failed, was stopped, or did not pass", personal=False
            ),
        ),
        migrations.AddField(
            model_name="wipe",
            name="expected_end",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="wipe",
            name="port",
            field=labcases.core.models.Line(
                blank=True, help_text="machine and port it runs on", max_length=100, personal=False
            ),
        ),
        migrations.AddField(
            model_name="wipe",
            name="share",
            field=models.PositiveSmallIntegerField(
                blank=True, help_text="per cent of the sectors read back", null=True
            ),
        ),
        migrations.AddField(
            model_name="wipe",
            name="standard",
            field=labcases.core.models.Line(
                default="NIST SP 800-88 Rev. 1", help_text="whose words these are", max_length=60, personal=False
            ),
        ),
        migrations.AddField(
            model_name="wipe",
            name="state",
            field=labcases.core.models.Line(
                choices=[
                    ("running", "running"),
                    ("ended", "ended, to be verified"),
                    ("verified", "verified"),
                    ("failed", "failed"),
                    ("stopped", "stopped"),
                    ("not passed", "verification not passed"),
                ],
                default="running",
                max_length=12,
                personal=False,
            ),
        ),
        migrations.AddField(
            model_name="wipe",
            name="technique",
            field=labcases.core.models.Line(blank=True, max_length=60, personal=False),
        ),
        migrations.AddField(
            model_name="wipe",
            name="verified_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="wipe",
            name="verified_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="wipe",
            name="verified_role",
            field=labcases.core.models.Line(blank=True, max_length=20, personal=False),
        ),
        migrations.AddField(
            model_name="wipe",
            name="verified_with",
            field=labcases.core.models.Line(
                blank=True, help_text="what read it back, with its version", max_length=200, personal=False
            ),
        ),
        migrations.AddField(
            model_name="wipe",
            name="was",
            field=labcases.core.models.Line(
                blank=True, help_text="state of the medium before", max_length=30, personal=False
            ),
        ),
        migrations.AlterField(
            model_name="destination",
            name="state",
            field=labcases.core.models.Line(
                choices=[
                    ("new and sealed", "new and sealed"),
                    ("wiped and verified", "wiped and verified"),
                    ("assigned", "assigned"),
                    ("holds customer data", "holds customer data"),
                    ("kept", "kept"),
                    ("being wiped", "being wiped"),
                    ("wiped, not verified", "wiped, not verified"),
                    ("retired", "retired"),
                    ("handed out", "handed out"),
                ],
                default="new and sealed",
                max_length=30,
                personal=False,
            ),
        ),
        migrations.AlterField(
            model_name="wipe",
            name="verified",
            field=labcases.core.models.Line(
                blank=True,
                choices=[
                    ("full", "every sector read back"),
                    ("sampled", "samples read back"),
                    ("seen", "seen destroyed"),
                ],
                max_length=10,
                personal=False,
            ),
        ),
        migrations.AddField(
            model_name="healthcheck",
            name="by",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="healthcheck",
            name="destination",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="health_checks", to="stock.destination"
            ),
        ),
        migrations.AddConstraint(
            model_name="healthcheck",
            constraint=models.CheckConstraint(
                condition=models.Q(("passed", True), models.Q(("because", ""), _negated=True), _connector="OR"),
                name="failed_health_check_says_why",
                violation_error_message="Say why it failed.",
            ),
        ),
    ]
