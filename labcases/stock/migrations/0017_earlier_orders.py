import django.db.models.deletion
import labcases.core.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("stock", "0016_donors_counted"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="EarlierOrder",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("supplier", labcases.core.models.Line(max_length=200, personal=False)),
                ("price", models.PositiveBigIntegerField(blank=True, help_text="minor units", null=True)),
                ("currency", labcases.core.models.Line(blank=True, max_length=3, personal=False)),
                ("non_refundable", models.BooleanField(default=False)),
                ("ordered", models.DateTimeField()),
                ("arrived", models.DateTimeField(blank=True, null=True)),
                ("because", labcases.core.models.Prose(blank=True, help_text="what was wrong with it", personal=False)),
                (
                    "returned",
                    models.DateTimeField(blank=True, help_text="when it went back to where it was bought", null=True),
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
                    "need",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="earlier", to="stock.need"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
    ]
