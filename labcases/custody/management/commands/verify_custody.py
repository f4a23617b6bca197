"""Verify the whole ledger; the exit code says whether it holds."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from dataclasses import asdict
from typing import Any

from django.core.management.base import BaseCommand

from labcases.custody import queries
from labcases.custody.models import Head
from labcases.custody.proofs.queries import Verified
from labcases.custody.verify import AT_EVENTS, Finding


class Command(BaseCommand):
    help = "Verifies the ledger: chain, columns, tree, heads, texts. Exit code 0 when everything holds, 1 otherwise."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--json", action="store_true", help="print what was found as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        self.events = Head.objects.values_list("sequence", flat=True).first() or 0
        found = queries.verify_ledger(progress=self._progress)
        self.stderr.write("")
        if options["json"]:
            first = asdict(found.first) if found.first else None
            said = json.dumps({"holds": found.holds, "first": first, **asdict(found)}, indent=1, ensure_ascii=False)
        else:
            said = "\n".join(_lines(found))
        self.stdout.write(said)
        if not found.holds:
            raise SystemExit(1)

    def _progress(self, events: int) -> None:
        """On the error stream, so that what is printed stays JSON."""
        self.stderr.write(f"{events:,} of {max(events, self.events):,} events …", ending="\r")


def _lines(found: Verified) -> list[str]:
    if found.first is None:
        return [f"The ledger holds: {found.size} events, root {found.root}."]
    said = [f"The ledger does NOT hold. First at {_where(found.first)}: {found.first.sentence}", "All that was found:"]
    return said + [f"  {_where(one)}: {one.sentence} (found by: {one.detector})" for one in found.findings]


def _where(one: Finding) -> str:
    if one.sequence is None:
        return "the head"
    return f"event {one.sequence}" if one.detector in AT_EVENTS else f"the head kept at event {one.sequence}"
