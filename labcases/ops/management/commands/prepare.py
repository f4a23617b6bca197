"""Bring database, static files and (in the demo) the invented lab up to date."""

from __future__ import annotations

import hashlib
from typing import Any

from django.conf import settings
from django.contrib.staticfiles import finders
from django.core.checks import Tags
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import OperationalError, ProgrammingError, connection
from django.db.migrations.executor import MigrationExecutor

from labcases.custody import triggers
from labcases.lab.models import Staff
from labcases.ops import first_manager
from labcases.ops.launch import LOG_INS


class Command(BaseCommand):
    help = "Brings database, static files and (in the demo) the invented lab up to date; safe to repeat."

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            connection.ensure_connection()
        except OperationalError as problem:
            raise CommandError(f"The database cannot be used: {problem}") from problem
        self._migrate()
        self.check(tags=[Tags.database], databases=["default"])  # the ledger's triggers are there
        self._collect_static()
        if settings.DEMO:
            if not (settings.DATA_DIR / LOG_INS).exists():
                self.stdout.write("Making the invented lab …")
                call_command("load_demo", stdout=self.stdout)
        elif not Staff.objects.exists():
            address = f"{settings.SITE_URL}/set-up/{first_manager.token_for(settings.KEY_DIR)}/"
            self.stdout.write(f"Nobody can log in yet. Make the first manager here, once:\n  {address}")

    def _migrate(self) -> None:
        executor = MigrationExecutor(connection)
        if plan := executor.migration_plan(executor.loader.graph.leaf_nodes()):
            self.stdout.write(f"Bringing the database up to date ({len(plan)} steps) …")
        elif not triggers.missing(connection):
            return  # a user that only appends to the ledger could do nothing here
        try:
            call_command("migrate", interactive=False, verbosity=0)  # puts triggers back, too
        except ProgrammingError as problem:
            raise CommandError(f"Run migrate as the owner of the tables, then start again: {problem}") from problem

    def _collect_static(self) -> None:
        """Only when a file changed: compressing them takes longer than everything else here."""
        digest = hashlib.sha256()
        for finder in finders.get_finders():
            for name, storage in finder.list([]):
                digest.update(f"{name} {storage.size(name)} {storage.get_modified_time(name)}\n".encode())
        mark = settings.DATA_DIR / "static.collected"
        if not mark.exists() or mark.read_text() != digest.hexdigest():
            call_command("collectstatic", interactive=False, verbosity=0)
            mark.write_text(digest.hexdigest())
