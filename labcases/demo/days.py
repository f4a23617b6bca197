"""The days of the invented lab: who is there, which case is which, and a verb done at its own moment."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, TypeVar

from django.utils import timezone

from labcases.cases.models import Case, Item
from labcases.custody.models import Thing
from labcases.demo.clock import set_to
from labcases.lab.models import Actor, Place

T = TypeVar("T")


@dataclass
class Days:
    """``played`` gives a case by the name its story has, and the moment at which that story had been told."""

    staff: dict[str, Actor]
    morning: datetime
    dice: random.Random
    played: dict[str, tuple[Case, datetime]] = field(default_factory=dict)

    def ago(self, days: float, *, hours: float = 0) -> datetime:
        """So many days ago, so many hours after opening; never later than a quarter of an hour ago."""
        moment = self.morning - timedelta(days=days) + timedelta(hours=hours)
        return min(moment, timezone.now() - timedelta(minutes=15))

    def since(self, key: str, share: float) -> datetime:
        """Between the last moment of a story (0) and now (1)."""
        begin = self.played[key][1]
        return begin + (timezone.now() - timedelta(minutes=10) - begin) * share

    def do(self, moment: datetime, verb: Callable[..., T], who: str = "engineer", /, **about: Any) -> T:
        """Somebody does something, with the clock set back to its moment."""
        with set_to(moment, timezone):
            return verb(by=self.staff[who], happened=moment, **about)

    def case(self, key: str) -> Case:
        return Case.objects.with_people().get(pk=self.played[key][0].pk)

    def item(self, key: str, number: int = 1) -> Item:
        return Item.objects.with_context().get(case=self.played[key][0], number=number)

    def thing(self, key: str, number: int = 1) -> Thing:
        return self.item(key, number).thing

    @staticmethod
    def place(name: str) -> Place:
        return Place.objects.get(name=name)
