"""Say what an identify page says: from a file, or from what is piped in."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from labcases.bench.management.given import read_bounded
from labcases.media.errors import NotAPage
from labcases.media.findings import as_json, findings
from labcases.media.reading import read_any

MOST_BYTES = 256 * 1024  # the longest listing of a page is a tenth of this


class Command(BaseCommand):
    help = (
        "Reads an identify page of a disk (512 bytes), of an NVMe SSD (4096 bytes) or a register of a memory card "
        "(16 bytes), as it is or as a hex listing. Exit code 0 when it was read, 1 when there is none in it."
    )
    requires_system_checks: list[str] = []  # the database is not asked

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE|-", help="the page; - reads what is piped in")
        parser.add_argument("--json", action="store_true", help="print the findings as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        given = read_bounded(options["file"], MOST_BYTES)
        try:
            record = read_any(given)
        except NotAPage as fault:
            raise CommandError(str(fault)) from None
        if options["json"]:
            self.stdout.write(json.dumps(as_json(record), indent=1))
            return
        found = findings(record)
        self.stdout.write(f"{found.what[0].upper()}{found.what[1:]}")
        width = max((len(label) for label, _ in found.pairs), default=0)
        for label, value in found.pairs:
            self.stdout.write(f"  {label.ljust(width)}  {value}")
        for sentence in found.loud:
            self.stdout.write(f"! {sentence}")
        for sentence in found.notes:
            self.stdout.write(f"- {sentence}")
