"""Which family a model number belongs to: the stockroom knows, and intake may ask without knowing the stockroom."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

Finder = Callable[[str, str], Any]
_finders: list[Finder] = []


def found_by(finder: Finder) -> None:
    """Use ``finder(maker, model)`` from now on; it gives a family or None."""
    _finders[:] = [finder]


def family_of(maker: str, model: str) -> Any:
    """The family of a model number, or None when it is not known."""
    return _finders[0](maker, model) if _finders and model else None
