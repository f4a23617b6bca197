"""Starts the room."""

from __future__ import annotations

from django.apps import AppConfig


class Paper(AppConfig):
    name = "labcases.paper"
