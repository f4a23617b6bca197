import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    replaces = [("cases", "0012_old_records")]

    dependencies = [
        ("cases", "0001_tables"),
        ("stock", "0001_tables"),
    ]

    operations = [
        migrations.AddField(
            model_name="item",
            name="family",
            field=models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="stock.family"
            ),
        ),
    ]
