"""Print what to grant to the application's user in PostgreSQL: it can append to the ledger and not change it."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from labcases.custody import grants


class Command(BaseCommand):
    help = (
        "Prints the GRANT statements for the application's user in PostgreSQL: it records and reads, and has no right "
        "to change or empty the ledger. Run them as the owner of the tables, after every migrate."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("role", help="the application's user in PostgreSQL; it must own no table")

    def handle(self, *args: Any, **options: Any) -> None:
        if connection.vendor != "postgresql":
            raise CommandError("Only PostgreSQL has rights to grant; in SQLite whoever has the file has the ledger.")
        tables = sorted({*connection.introspection.django_table_names(only_existing=True), "django_migrations"})
        try:
            said = grants.statements(options["role"], tables)
        except ValueError as error:
            raise CommandError(str(error)) from None
        self.stdout.write("\n".join(said))
