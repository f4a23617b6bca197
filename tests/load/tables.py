"""The tables of an empty lab for a benchmark, made from the models in less than a second.

Running every migration takes twenty; that they lead to these same tables is held by tests/migrations.
"""

from __future__ import annotations

import sys

import django
from django.apps import apps
from django.conf import settings
from django.core.management import call_command


def make_tables() -> None:
    """Make the tables and put the triggers in place, in the database of these settings."""
    settings.MIGRATION_MODULES = {config.label: None for config in apps.get_app_configs()}
    call_command("migrate", run_syncdb=True, verbosity=0)


if __name__ == "__main__":
    django.setup()
    make_tables()
    sys.exit(0)
