"""Whoever follows the hint of the check that misses triggers gets them back."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from django.core.management.base import SystemCheckError
from django.db import connection

from labcases.custody import triggers


@pytest.mark.django_db(transaction=True)
def test_migrate_puts_back_the_triggers_whose_absence_the_check_reports() -> None:
    triggers.drop(connection)
    with pytest.raises(SystemCheckError, match="Triggers of the ledger are missing"):
        call_command("check", databases=["default"])
    call_command("migrate", verbosity=0, skip_checks=False)
    assert triggers.missing(connection) == []
    call_command("check", databases=["default"])
