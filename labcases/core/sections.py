"""How rooms put their part onto pages that a later room assembles: sections of the docket, parts of the front pages.

A room adds its parts when it starts; the docket room draws them in their order. Nothing here knows any room.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

Context = Callable[..., Any]


@dataclass(frozen=True)
class Section:
    """A ruled section: its address on the page (``#findings``), its title, its template, and what the template gets.

    ``context`` is called with the case (docket) or the request (front pages); the template finds the answer as
    ``section``.
    """

    key: str
    title: str
    order: int
    template: str
    context: Context


DOCKET: dict[str, Section] = {}
FRONT: dict[str, dict[str, Section]] = {}
CARDS: dict[str, dict[str, Section]] = {}


def add(key: str, *, title: str, order: int, template: str, context: Context) -> None:
    """A section of the page of a case."""
    DOCKET[key] = Section(key, title, order, template, context)


def add_front(place: str, key: str, *, title: str, order: int, template: str, context: Context) -> None:
    """A part of the front page of a place (``counter``, ``bench`` …)."""
    FRONT.setdefault(place, {})[key] = Section(key, title, order, template, context)


def add_card(card: str, key: str, *, title: str, order: int, template: str, context: Context) -> None:
    """A part of the card of a thing that several rooms know of (``family``); ``context`` is called with that thing."""
    CARDS.setdefault(card, {})[key] = Section(key, title, order, template, context)


def of_card(card: str) -> list[Section]:
    return sorted(CARDS.get(card, {}).values(), key=lambda section: section.order)


def of_docket() -> list[Section]:
    return sorted(DOCKET.values(), key=lambda section: section.order)


def of_front(place: str) -> list[Section]:
    return sorted(FRONT.get(place, {}).values(), key=lambda section: section.order)
