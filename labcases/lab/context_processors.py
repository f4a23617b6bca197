"""What every page knows of the lab and of the person in front of it."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpRequest

from labcases.lab.roles import Right


def lab(request: HttpRequest) -> dict[str, Any]:
    """``lab`` (the profile), ``may`` (rights by name: ``may.TAKE_IN``), ``is_demo``."""
    person = getattr(request, "user", None)
    held = person.rights if person is not None and person.is_authenticated else frozenset()
    may = {right.name: right in held for right in Right}
    return {"lab": getattr(request, "lab", None), "may": may, "is_demo": settings.DEMO}
