"""Starts the room."""

from __future__ import annotations

from django.apps import AppConfig


class Demo(AppConfig):
    name = "labcases.demo"
