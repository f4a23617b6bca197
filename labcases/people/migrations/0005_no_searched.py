"""Finding no longer reads one long text."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("people", "0004_words_of_parties")]

    operations = [migrations.RemoveField(model_name="party", name="searched")]
