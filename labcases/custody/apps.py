"""Starts the room: the ledger's triggers are put back after every migrate."""

from __future__ import annotations

from typing import Any

from django.apps import AppConfig
from django.db import connections
from django.db.models.signals import post_migrate

from labcases.custody import triggers


def _install(using: str, **_: Any) -> None:
    connection = connections[using]
    if triggers.TABLE in connection.introspection.table_names():
        triggers.install(connection)


class Custody(AppConfig):
    name = "labcases.custody"

    def ready(self) -> None:
        from labcases.custody import checks  # noqa: F401 registers them

        post_migrate.connect(_install, sender=self)
