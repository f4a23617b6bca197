"""Checks at start: the ledger is protected by its triggers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections

from labcases.custody import triggers


@register(Tags.database)
def ledger_is_append_only(*, databases: Sequence[str] | None = None, **_: Any) -> list[CheckMessage]:
    """Runs with ``check --database default`` and before ``serve`` starts."""
    said: list[CheckMessage] = []
    for alias in databases or []:
        connection = connections[alias]
        if triggers.TABLE not in connection.introspection.table_names():
            continue  # not migrated yet
        if names := triggers.missing(connection):
            hint = "Run: python3 manage.py migrate (it puts them back), then find out who took them away."
            said.append(Error(f"Triggers of the ledger are missing: {', '.join(names)}.", hint=hint, id="custody.E001"))
    return said
