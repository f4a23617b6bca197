"""Starts the room."""

from __future__ import annotations

from django.apps import AppConfig


class Ops(AppConfig):
    name = "labcases.ops"
