"""A price range names its currency; those named so far were in the lab's own."""

import labcases.core.models
from django.db import migrations


def fill(apps, schema_editor):
    here = schema_editor.connection.alias
    lab = apps.get_model("lab", "Profile").objects.using(here).first()
    if lab:
        apps.get_model("cases", "Enquiry").objects.using(here).filter(currency="").update(currency=lab.currency)


class Migration(migrations.Migration):
    dependencies = [("cases", "0009_signed_papers"), ("lab", "0003_clock")]

    operations = [
        migrations.AddField(
            model_name="enquiry",
            name="currency",
            field=labcases.core.models.Line(blank=True, help_text="of the price range", max_length=3, personal=False),
        ),
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]
