"""Starts the room."""

from __future__ import annotations

from django.apps import AppConfig


class Docket(AppConfig):
    name = "labcases.docket"
