import django.db.models.deletion
import django.db.models.functions.text
import django.db.models.lookups
import labcases.core.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("stock", "0014_family_nature"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="ConsentPaper",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
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
                    "destination",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="consent_papers",
                        to="stock.destination",
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("destination", "original"),
                        name="consent_paper_once",
                        violation_error_message="This very file is with the medium already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            django.db.models.lookups.Exact(django.db.models.functions.text.Length("original"), 64)
                        ),
                        name="consent_paper_has_its_digest",
                        violation_error_message="A signed paper names its file by 64 hexadecimal digits.",
                    ),
                ],
            },
        ),
    ]
