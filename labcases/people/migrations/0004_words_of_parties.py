"""Every party known so far is found by her words."""

from django.db import migrations

from labcases.people.lookup import words_of


def fill(apps, schema_editor):
    here = schema_editor.connection.alias
    party_word = apps.get_model("people", "PartyWord")
    for party in apps.get_model("people", "Party").objects.using(here).iterator():
        words = words_of(party.name, party.company, party.email, party.phone)
        party_word.objects.using(here).bulk_create([party_word(party=party, word=word) for word in sorted(words)])


class Migration(migrations.Migration):
    dependencies = [("people", "0003_party_words")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
