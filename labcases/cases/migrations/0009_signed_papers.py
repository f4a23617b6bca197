"""Scans of signed papers."""

import django.db.models.deletion
import django.db.models.functions.text
import django.db.models.lookups
import labcases.core.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("cases", "0008_further_traits"),
        ("lab", "0003_clock"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="SignedPaper",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                (
                    "terms_digest",
                    labcases.core.models.Line(
                        help_text="SHA-256 of the text that was signed, hex", max_length=64, personal=False
                    ),
                ),
                ("items", models.JSONField(default=list, help_text="[[code, what it is]] as listed when it was kept")),
                (
                    "kind",
                    labcases.core.models.Line(
                        help_text="PDF, JPEG, PNG or WebP, by content", max_length=10, personal=False
                    ),
                ),
                ("size", models.PositiveIntegerField(help_text="bytes")),
                (
                    "original",
                    labcases.core.models.Line(help_text="digest of the file as it came", max_length=64, personal=True),
                ),
                (
                    "shown",
                    labcases.core.models.Line(
                        blank=True, help_text="digest of the picture to look at", max_length=64, personal=True
                    ),
                ),
                (
                    "thumb",
                    labcases.core.models.Line(
                        blank=True, help_text="digest of the small picture", max_length=64, personal=True
                    ),
                ),
                ("withdrawn", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_because", labcases.core.models.Line(blank=True, max_length=200, personal=True)),
            ],
            options={
                "ordering": ["-pk"],
            },
        ),
        migrations.AddField(
            model_name="signedpaper",
            name="by",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="signedpaper",
            name="case",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="signed_papers", to="cases.case"
            ),
        ),
        migrations.AddField(
            model_name="signedpaper",
            name="terms",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="lab.termsversion"
            ),
        ),
        migrations.AddConstraint(
            model_name="signedpaper",
            constraint=models.UniqueConstraint(
                condition=models.Q(("withdrawn", None)),
                fields=("case", "original"),
                name="signed_paper_once_per_case",
                violation_error_message="This very file is with the case already.",
            ),
        ),
        migrations.AddConstraint(
            model_name="signedpaper",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    django.db.models.lookups.Exact(django.db.models.functions.text.Length("original"), 64),
                    django.db.models.lookups.Exact(django.db.models.functions.text.Length("terms_digest"), 64),
                ),
                name="signed_paper_has_its_digests",
                violation_error_message="A signed paper names its file and the signed text by 64 hexadecimal digits.",
            ),
        ),
        migrations.AddConstraint(
            model_name="signedpaper",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("withdrawn", None), models.Q(("withdrawn_because", ""), _negated=True), _connector="OR"
                ),
                name="withdrawn_paper_says_why",
                violation_error_message="Say why this scan is withdrawn.",
            ),
        ),
    ]
