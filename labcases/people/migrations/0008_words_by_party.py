"""Words and parties are found from either side by an index alone."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("people", "0007_came_with_a_batch"),
    ]

    operations = [
        migrations.AddIndex(
            model_name="partyword",
            index=models.Index(fields=["party", "word"], name="words_of_a_party"),
        ),
        migrations.AddIndex(
            model_name="partyword",
            index=models.Index(fields=["word", "party"], name="parties_of_a_word"),
        ),
    ]
