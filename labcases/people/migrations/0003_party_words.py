"""The words under which parties are found."""

import django.db.models.deletion
import labcases.core.models
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("people", "0002_clock")]

    operations = [
        migrations.CreateModel(
            name="PartyWord",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("word", labcases.core.models.Line(db_index=True, max_length=101, personal=True)),
                (
                    "party",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="words", to="people.party"
                    ),
                ),
            ],
            options={"ordering": ["word", "pk"]},
        ),
    ]
