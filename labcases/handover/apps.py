"""Starts the room."""

from __future__ import annotations

from django.apps import AppConfig


class Handover(AppConfig):
    name = "labcases.handover"
