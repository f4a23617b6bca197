from __future__ import annotations

from typing import Any

from django.db import migrations
from django.db.models import F, Q


def say_what_was(apps: Any, schema_editor: Any) -> None:
    """Until now a wipe went on record when it was over and verified; and what held data said so by its state only."""
    using = schema_editor.connection.alias
    wipes = apps.get_model("stock", "Wipe").objects.using(using)
    wipes.exclude(verified="").update(
        state="verified", ended=F("happened"), verified_at=F("happened"), verified_by=F("by"), verified_role=F("role")
    )
    wipes.filter(verified="").update(state="stopped", ended=F("happened"))
    media = apps.get_model("stock", "Destination").objects.using(using)
    held = Q(state__in=["holds customer data", "handed out", "retired"]) | Q(owned_by__isnull=False)
    media.filter(held, held_for__isnull=False).update(written=True)
    again = apps.get_model("stock", "DestinationAssignment").objects.using(using)
    rows = again.filter(ended=None, fit__was="holds customer data").values_list("destination", flat=True)
    media.filter(pk__in=list(rows), held_for__isnull=False).update(written=True)


class Migration(migrations.Migration):
    dependencies = [("stock", "0007_life_of_media")]

    operations = [migrations.RunPython(say_what_was, migrations.RunPython.noop)]
