"""Which family a model number belongs to: the stockroom knows, and intake may ask without knowing the stockroom."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

Finder = Callable[[str, str], Any]
_finders: list[Finder] = []


@dataclass(frozen=True)
class Hint:
    """A family that a model number belongs to, and what is expected inside: a line each, and counts of sectors that
    may be taken over as (words of the size, sectors).
    """

    name: str
    address: str
    lines: tuple[str, ...] = ()
    sizes: tuple[tuple[str, int], ...] = ()


Model = tuple[str, str, int | None]  # maker, model, sectors of 512 bytes
Hinter = Callable[[Sequence[Model]], Sequence[Hint | None]]
_hinters: list[Hinter] = []


def hinted_by(hinter: Hinter) -> None:
    """Use ``hinter(models)`` from now on: a hint or None for each, in a fixed number of queries."""
    _hinters[:] = [hinter]


def hints(models: Sequence[Model]) -> Sequence[Hint | None]:
    """What the stockroom knows of each of these model numbers."""
    return _hinters[0](models) if _hinters and any(model for _, model, _ in models) else [None] * len(models)


def found_by(finder: Finder) -> None:
    """Use ``finder(maker, model)`` from now on; it gives a family or None."""
    _finders[:] = [finder]


def family_of(maker: str, model: str) -> Any:
    """The family of a model number, or None when it is not known."""
    return _finders[0](maker, model) if _finders and model else None
