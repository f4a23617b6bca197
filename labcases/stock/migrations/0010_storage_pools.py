import django.db.models.deletion
import labcases.core.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("cases", "0011_enquiry_price_has_currency"),
        ("stock", "0009_rules_of_media"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Pool",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("name", labcases.core.models.Line(max_length=100, personal=False, unique=True)),
                (
                    "where",
                    labcases.core.models.Line(
                        blank=True, help_text="which machine, which path", max_length=200, personal=False
                    ),
                ),
                ("capacity", models.PositiveBigIntegerField(help_text="bytes that images may take")),
                (
                    "reserved",
                    models.PositiveBigIntegerField(default=0, help_text="bytes, the sum over its open images"),
                ),
                ("in_use", models.BooleanField(default=True)),
                ("note", labcases.core.models.Prose(blank=True, personal=False)),
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
                "ordering": ["name"],
            },
        ),
        migrations.CreateModel(
            name="PoolImage",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", labcases.core.models.Line(max_length=20, personal=False)),
                ("happened", models.DateTimeField()),
                ("entered", models.DateTimeField(default=labcases.core.models.now, editable=False)),
                ("size", models.PositiveBigIntegerField(help_text="bytes reserved")),
                ("fit", models.JSONField(help_text="sizes, compared when it was assigned")),
                ("ended", models.DateTimeField(blank=True, null=True)),
                (
                    "end",
                    labcases.core.models.Line(
                        blank=True,
                        choices=[("released", "released unwritten"), ("erased", "erased")],
                        max_length=10,
                        personal=False,
                    ),
                ),
                ("because", labcases.core.models.Prose(blank=True, personal=False)),
                (
                    "encrypted_with",
                    labcases.core.models.Line(
                        blank=True, help_text="what closed the image with its key", max_length=200, personal=False
                    ),
                ),
                (
                    "seen_how",
                    labcases.core.models.Line(
                        blank=True, help_text="how it was seen that it does not open", max_length=200, personal=False
                    ),
                ),
                ("ended_role", labcases.core.models.Line(blank=True, max_length=20, personal=False)),
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
                (
                    "item",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="pool_images", to="cases.item"
                    ),
                ),
                (
                    "key",
                    models.ForeignKey(
                        help_text="destroying it erases the image",
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="pool_images",
                        to="cases.casesecret",
                    ),
                ),
                (
                    "pool",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="images", to="stock.pool"
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
            },
        ),
        migrations.AddConstraint(
            model_name="pool",
            constraint=models.CheckConstraint(
                condition=models.Q(("reserved__gte", 0), ("reserved__lte", models.F("capacity"))),
                name="pool_holds_what_is_reserved",
                violation_error_message="The reservations of a pool never pass its capacity.",
            ),
        ),
        migrations.AddConstraint(
            model_name="pool",
            constraint=models.CheckConstraint(
                condition=models.Q(("capacity__gte", 1)),
                name="pool_has_a_capacity",
                violation_error_message="Say how many bytes images may take.",
            ),
        ),
        migrations.AddConstraint(
            model_name="poolimage",
            constraint=models.UniqueConstraint(
                condition=models.Q(("ended", None)),
                fields=("pool", "item"),
                name="one_image_of_a_patient_on_a_pool",
                violation_error_message="Room for this patient is reserved on this pool already.",
            ),
        ),
        migrations.AddConstraint(
            model_name="poolimage",
            constraint=models.CheckConstraint(
                condition=models.Q(("size__gte", 1)),
                name="image_has_a_size",
                violation_error_message="Say how many bytes to reserve.",
            ),
        ),
        migrations.AddConstraint(
            model_name="poolimage",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("end", ""), ("ended", None)),
                    models.Q(("end", "released"), ("ended__isnull", False)),
                    models.Q(
                        models.Q(("encrypted_with", ""), _negated=True),
                        models.Q(("seen_how", ""), _negated=True),
                        ("end", "erased"),
                        ("ended__isnull", False),
                    ),
                    _connector="OR",
                ),
                name="erased_image_says_how",
                violation_error_message="An erased image says what closed it, and how it was seen not to open.",
            ),
        ),
    ]
