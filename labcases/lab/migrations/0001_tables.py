import django.db.models.deletion
import labcases.core.models
import labcases.lab.roles
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    replaces = [("lab", "0001_first"), ("lab", "0002_tax_rate"), ("lab", "0003_clock")]

    initial = True

    dependencies = []

    operations = [
        migrations.CreateModel(
            name="JobRun",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", labcases.core.models.Line(max_length=100, personal=False, unique=True)),
                ("due", models.DateTimeField()),
                ("held_until", models.DateTimeField(null=True)),
                ("last_ended", models.DateTimeField(null=True)),
                ("last_error", labcases.core.models.Prose(blank=True, personal=False)),
            ],
        ),
        migrations.CreateModel(
            name="Place",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "ref",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, help_text="how the ledger calls this place", unique=True
                    ),
                ),
                ("code", labcases.core.models.Line(max_length=20, personal=False, unique=True)),
                ("name", labcases.core.models.Line(max_length=100, personal=False, unique=True)),
                (
                    "kind",
                    labcases.core.models.Line(
                        choices=[
                            ("counter", "counter"),
                            ("shelf", "shelf"),
                            ("bench", "bench"),
                            ("safe", "safe"),
                            ("clean bench", "clean bench"),
                            ("other", "other place"),
                        ],
                        default="shelf",
                        max_length=20,
                        personal=False,
                    ),
                ),
                ("in_use", models.BooleanField(default=True)),
            ],
            options={
                "ordering": ["name"],
            },
        ),
        migrations.CreateModel(
            name="TermsVersion",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("version", labcases.core.models.Line(max_length=60, personal=False, unique=True)),
                ("text", labcases.core.models.Prose(personal=False)),
                (
                    "digest",
                    labcases.core.models.Line(help_text="SHA-256 of the text, hex", max_length=64, personal=False),
                ),
                ("since", models.DateTimeField()),
            ],
            options={
                "ordering": ["-since", "-pk"],
                "get_latest_by": ["since", "pk"],
            },
        ),
        migrations.CreateModel(
            name="Staff",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("password", models.CharField(max_length=128, verbose_name="password")),
                ("last_login", models.DateTimeField(blank=True, null=True, verbose_name="last login")),
                (
                    "ref",
                    models.UUIDField(
                        default=uuid.uuid4, editable=False, help_text="how the ledger calls this person", unique=True
                    ),
                ),
                ("login", labcases.core.models.Line(max_length=150, personal=True, unique=True)),
                ("name", labcases.core.models.Line(max_length=200, personal=True)),
                ("is_active", models.BooleanField(default=True)),
                ("joined", models.DateTimeField(default=labcases.core.models.now)),
            ],
            options={
                "ordering": ["name", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("login", ""), _negated=True), models.Q(("name", ""), _negated=True)
                        ),
                        name="staff_has_login_and_name",
                        violation_error_message="A member of staff has a log-in and a name.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="FailedLogIn",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("login", labcases.core.models.Line(max_length=150, personal=True)),
                ("address", labcases.core.models.Line(max_length=60, personal=True)),
                ("at", models.DateTimeField(default=labcases.core.models.now)),
            ],
            options={
                "indexes": [models.Index(fields=["login", "at"], name="failed_login_at")],
            },
        ),
        migrations.CreateModel(
            name="Profile",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", labcases.core.models.Line(max_length=200, personal=False)),
                ("address", labcases.core.models.Prose(blank=True, personal=False)),
                ("phone", labcases.core.models.Line(blank=True, max_length=60, personal=False)),
                ("email", models.EmailField(blank=True, max_length=254)),
                ("tax_number", labcases.core.models.Line(blank=True, max_length=60, personal=False)),
                (
                    "country",
                    labcases.core.models.Line(
                        default="GB",
                        help_text="ISO 3166-1, two letters: reads phone numbers",
                        max_length=2,
                        personal=False,
                    ),
                ),
                (
                    "currency",
                    labcases.core.models.Line(default="EUR", help_text="ISO 4217", max_length=3, personal=False),
                ),
                ("tax_rate", models.PositiveIntegerField(default=0, help_text="basis points: 2000 is 20 %")),
                (
                    "time_zone",
                    labcases.core.models.Line(
                        default="UTC", help_text="name in the IANA database", max_length=64, personal=False
                    ),
                ),
                (
                    "paper_size",
                    labcases.core.models.Line(
                        choices=[("A4", "A4"), ("Letter", "Letter")], default="A4", max_length=10, personal=False
                    ),
                ),
                (
                    "keep_days",
                    models.PositiveSmallIntegerField(default=14, help_text="days a clone is kept after handover"),
                ),
                (
                    "logo",
                    labcases.core.models.Line(
                        blank=True, help_text="digest of the picture in the vault", max_length=64, personal=False
                    ),
                ),
                ("logo_type", labcases.core.models.Line(blank=True, max_length=20, personal=False)),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("pk", 1)),
                        name="one_profile",
                        violation_error_message="A lab has one profile.",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="StaffRole",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "role",
                    labcases.core.models.Line(
                        choices=[
                            (labcases.lab.roles.Role["COUNTER"], labcases.lab.roles.Role["COUNTER"]),
                            (labcases.lab.roles.Role["ENGINEER"], labcases.lab.roles.Role["ENGINEER"]),
                            (labcases.lab.roles.Role["MANAGER"], labcases.lab.roles.Role["MANAGER"]),
                            (labcases.lab.roles.Role["AUDITOR"], labcases.lab.roles.Role["AUDITOR"]),
                        ],
                        max_length=20,
                        personal=False,
                    ),
                ),
                (
                    "staff",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="held_roles",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("staff", "role"),
                        name="staff_role_once",
                        violation_error_message="This person holds the role already.",
                    )
                ],
            },
        ),
    ]
