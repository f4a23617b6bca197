"""What the worker does for the ledger every day: walk through it, and keep its head."""

from __future__ import annotations

from dataclasses import asdict

from django.utils import timezone

from labcases.custody import queries
from labcases.custody.actions import keep_head
from labcases.custody.models import KeptHead, LedgerCheck


def verify_ledger() -> LedgerCheck:
    """Verify every event and every head, and write down what was found."""
    started = timezone.now()
    found = queries.verify_ledger()
    return LedgerCheck.objects.create(
        started=started,
        ended=timezone.now(),
        size=found.size,
        holds=found.holds,
        findings=[asdict(finding) for finding in found.findings],
    )


def keep_daily_head() -> KeptHead | None:
    """Keep today's head for ever; None while the ledger is empty."""
    return keep_head(because="daily")
