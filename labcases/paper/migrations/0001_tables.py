import django.db.models.deletion
import django.db.models.functions.text
import django.db.models.lookups
import labcases.core.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    replaces = [("paper", "0001_first"), ("paper", "0002_clock")]

    initial = True

    dependencies = [
        ("custody", "0001_tables"),
        ("lab", "__first__"),
    ]

    operations = [
        migrations.CreateModel(
            name="Paper",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("key", labcases.core.models.Line(max_length=200, personal=False)),
                (
                    "kind",
                    labcases.core.models.Line(
                        help_text="intake-form, handover-report …", max_length=40, personal=False
                    ),
                ),
                (
                    "code",
                    labcases.core.models.Line(
                        blank=True, help_text="as printed in its head", max_length=30, personal=False
                    ),
                ),
                ("title", labcases.core.models.Line(max_length=200, personal=False)),
                ("language", labcases.core.models.Line(help_text="BCP 47", max_length=35, personal=False)),
                (
                    "size",
                    labcases.core.models.Line(
                        choices=[("A4", "A4"), ("Letter", "Letter")], max_length=10, personal=False
                    ),
                ),
                (
                    "sha256",
                    labcases.core.models.Line(
                        help_text="of the bytes, hex; also where they lie in the vault", max_length=64, personal=False
                    ),
                ),
                ("template_version", labcases.core.models.Line(max_length=64, personal=False)),
                (
                    "case_code",
                    labcases.core.models.Line(
                        blank=True, db_index=True, help_text="folded", max_length=30, personal=False
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
                    "thing",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="papers",
                        to="custody.thing",
                    ),
                ),
            ],
            options={
                "ordering": ["-happened", "-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("key",), name="paper_once", violation_error_message="This paper was already printed."
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("key", ""), _negated=True),
                            models.Q(("kind", ""), _negated=True),
                            models.Q(("title", ""), _negated=True),
                            models.Q(("language", ""), _negated=True),
                            models.Q(("template_version", ""), _negated=True),
                        ),
                        name="paper_says_what_it_is",
                        violation_error_message="A paper has a key, a kind, a title, a language and a template version.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            django.db.models.lookups.Exact(django.db.models.functions.text.Length("sha256"), 64)
                        ),
                        name="paper_has_its_digest",
                        violation_error_message="A paper names its stored bytes by 64 hexadecimal digits.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("size__in", ["A4", "Letter"])),
                        name="paper_size_known",
                        violation_error_message="A paper is A4 or Letter.",
                    ),
                ],
            },
        ),
    ]
