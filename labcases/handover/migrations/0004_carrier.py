from __future__ import annotations

from django.db import migrations

from labcases.core.models import Line


class Migration(migrations.Migration):
    dependencies = [("handover", "0003_number_and_note")]

    operations = [
        migrations.AddField(
            model_name="handover",
            name="carrier",
            field=Line(blank=True, help_text="who takes the parcel", max_length=100, personal=False),
        )
    ]
