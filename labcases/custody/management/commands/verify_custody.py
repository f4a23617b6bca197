"""Verify the whole ledger; the exit code says whether it holds."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from dataclasses import asdict
from typing import Any

from django.core.management.base import BaseCommand

from labcases.custody import queries


class Command(BaseCommand):
    help = "Verifies the ledger: chain, columns, tree, heads, texts. Exit code 0 when everything holds, 1 otherwise."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--json", action="store_true", help="print the findings as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        as_json = options["json"]
        found = queries.verify_ledger(progress=None if as_json else self._progress)
        if as_json:
            self.stdout.write(json.dumps(asdict(found) | {"holds": found.holds}, indent=1))
        elif found.holds:
            self.stdout.write(f"The ledger holds: {found.size} events, root {found.root}.")
        else:
            first = next((f for f in found.findings if f.sequence is not None), found.findings[0])
            at = f"event {first.sequence}" if first.sequence is not None else "the head"
            self.stdout.write(f"The ledger does NOT hold. First at {at}:")
            for finding in found.findings:
                where = f"event {finding.sequence}" if finding.sequence is not None else "ledger"
                self.stdout.write(f"  {where}: {finding.sentence} (found by: {finding.detector})")
        if not found.holds:
            raise SystemExit(1)

    def _progress(self, events: int) -> None:
        self.stderr.write(f"{events} events …", ending="\r")
