"""Fill an empty demo with the invented lab."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from labcases.demo.clock import without_pauses
from labcases.demo.load import LOG_INS as PEOPLE
from labcases.demo.load import load
from labcases.ops.launch import LOG_INS


class Command(BaseCommand):
    help = "Fills an empty demo with the invented lab. Refuses to run in a real one."

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError("This is a real lab; the invented one goes into the demo only: manage.py demo.")
        with without_pauses():
            self._load()
        lines = [f"  log in as {login:<12} password {password:<24} {roles}" for login, password, roles in PEOPLE]
        (settings.DATA_DIR / LOG_INS).write_text("\n".join(lines) + "\n", encoding="utf-8")

    def _load(self) -> None:
        """Into a database that waits for the disk once, at the end: nothing is lost that could not be made again."""
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA synchronous = OFF")
            load(self.stdout)
            cursor.execute("PRAGMA synchronous = FULL")
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
