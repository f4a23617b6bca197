"""Starts the room: the vault and the turn to write lie in the data folder."""

from __future__ import annotations

from django.apps import AppConfig
from django.conf import settings

from labcases.core import turns, vault


class Core(AppConfig):
    name = "labcases.core"

    def ready(self) -> None:
        vault.open_at(settings.DATA_DIR / "vault")
        turns.open_at(settings.DATA_DIR / "turn")
