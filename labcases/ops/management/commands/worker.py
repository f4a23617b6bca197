"""Do what the timetable says, until told to stop."""

from __future__ import annotations

import logging
import os
import signal
import threading
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.db import DatabaseError, close_old_connections

from labcases.lab.actions import run_due

log = logging.getLogger(__name__)
TICK_SECONDS = 1.0
AFTER_TROUBLE_SECONDS = 5.0


class Command(BaseCommand):
    help = "Does what is due on the lab's timetable, every second, until it is told to stop (SIGTERM, Ctrl-C)."
    requires_system_checks: list[str] = []  # the server's start has run them

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--once", action="store_true", help="do what is due now, then end")

    def handle(self, *args: Any, once: bool, **options: Any) -> None:
        if once:
            ran = run_due()
            self.stdout.write(f"{ran} {'job' if ran == 1 else 'jobs'} run.")
            return
        stop = threading.Event()
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, lambda *_: stop.set())
        self._loop(stop)

    def _loop(self, stop: threading.Event) -> None:
        parent = os.getppid()
        while not stop.is_set() and os.getppid() == parent:  # an orphan ends by itself
            stop.wait(self._tick())

    def _tick(self) -> float:
        """Run what is due; seconds until the next look."""
        close_old_connections()
        try:
            run_due()
        except DatabaseError:
            log.exception("The worker cannot use the database; it tries again shortly.")
            return AFTER_TROUBLE_SECONDS
        return TICK_SECONDS
