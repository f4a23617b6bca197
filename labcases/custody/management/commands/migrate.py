"""Django's own ``migrate``, which missing triggers of the ledger do not stop: it is what puts them back."""

from __future__ import annotations

from typing import Any

from django.core.management.commands import migrate


class Command(migrate.Command):
    """The checks of the database judge what this command is about to change; all other checks are made."""

    def check(self, *args: Any, databases: Any = None, **options: Any) -> None:
        """Make the checks that need no database; ``serve`` makes the others before it starts."""
        super().check(*args, **options)
