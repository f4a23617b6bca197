import labcases.core.models
from django.db import migrations, models


class Migration(migrations.Migration):
    replaces = [("demo", "0001_mailbox")]

    initial = True

    dependencies = []

    operations = [
        migrations.CreateModel(
            name="DemoMail",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("at", models.DateTimeField(default=labcases.core.models.now)),
                ("sender", labcases.core.models.Line(max_length=600, personal=True)),
                ("to", labcases.core.models.Line(max_length=600, personal=True)),
                ("subject", labcases.core.models.Line(blank=True, max_length=600, personal=True)),
                ("body", labcases.core.models.Prose(blank=True, personal=True)),
                (
                    "source",
                    labcases.core.models.Prose(help_text="the whole mail as it goes over the wire", personal=True),
                ),
            ],
            options={
                "ordering": ["-pk"],
            },
        ),
    ]
