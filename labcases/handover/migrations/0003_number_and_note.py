from itertools import groupby

from django.db import migrations, models

import labcases.core.models


def count_within_each_case(apps, schema_editor):
    """Handovers recorded before they had numbers get them in their order."""
    rows = apps.get_model("handover", "Handover").objects.using(schema_editor.connection.alias).order_by("case", "pk")
    for _, of_case in groupby(rows, key=lambda row: row.case_id):
        for number, row in enumerate(of_case, 1):
            row.number = number
            row.save(update_fields=["number"])


class Migration(migrations.Migration):
    dependencies = [
        ("handover", "0002_clock"),
    ]

    operations = [
        migrations.AddField(
            model_name="handover",
            name="number",
            field=models.PositiveSmallIntegerField(default=0, help_text="counts within the case; names its report"),
            preserve_default=False,
        ),
        migrations.RunPython(count_within_each_case, migrations.RunPython.noop, elidable=True),
        migrations.AddConstraint(
            model_name="handover",
            constraint=models.UniqueConstraint(
                fields=("case", "number"),
                name="handover_number_once_per_case",
                violation_error_message="A handover of this number is in the case already.",
            ),
        ),
        migrations.AddField(
            model_name="handoverline",
            name="note",
            field=labcases.core.models.Line(
                blank=True, help_text="why the count differs from what came in", max_length=200, personal=False
            ),
        ),
        migrations.AlterField(
            model_name="handoverline",
            name="fate",
            field=labcases.core.models.Line(
                choices=[("out", "goes out"), ("stays", "stays by signature"), ("later", "later")],
                max_length=10,
                personal=False,
            ),
        ),
    ]
