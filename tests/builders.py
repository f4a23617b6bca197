"""Builders of test data: keyword-only, honest defaults, and always through the real actions."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from typing import Any

import pytest
from django.test import Client

from labcases.cases.actions import log_drive
from labcases.cases.intake import NewItem, Signed, Told, WantedLine
from labcases.cases.models import Case, Item
from labcases.core import codes
from labcases.lab.actions import publish_terms
from labcases.lab.models import Actor, Place, Profile, Staff, TermsVersion
from labcases.lab.roles import PEOPLE, Role
from labcases.people.models import Party

PASSWORD = "correct horse battery"
NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
STORY = Told(stories=["wear"], story="Slow for a week.", tried=["nothing"], wanted=[WantedLine("Photographs")])
SIGNED = Signed(signed_by="Orrin Vale", may_open=True, spending_limit=6_000)


class Make:
    """One method a kind of thing; each makes what it needs."""

    def __init__(self) -> None:
        self.numbers = itertools.count(1)

    def profile(self, **about: Any) -> Profile:
        about = {"name": "Quayside Media Lab", "currency": "EUR", "time_zone": "UTC"} | about
        return Profile.objects.update_or_create(pk=1, defaults=about)[0]

    def staff(self, *, roles: Sequence[Role] = PEOPLE, **about: Any) -> Staff:
        n = next(self.numbers)
        about = {"login": f"person{n}", "name": f"Person {n}", "password": PASSWORD} | about
        return Staff.objects.create_user(roles=roles, **about)

    def actor(self, role: Role = Role.MANAGER, **about: Any) -> Actor:
        """Somebody acting in this role, and holding no other unless ``roles`` says so."""
        return Actor(self.staff(roles=about.pop("roles", [role]), **about), role)

    def everyone(self) -> Actor:
        """One person who holds every role, as in a lab of one."""
        return Actor(self.staff(), Role.MANAGER)

    def place(self, *, kind: str = Place.Kind.SHELF, name: str = "") -> Place:
        n = next(self.numbers)
        return Place.objects.create(
            code=codes.with_check(codes.stock_body("S", n)), name=name or f"{kind} {n}", kind=kind
        )

    def party(self, **about: Any) -> Party:
        n = next(self.numbers)
        about = {"name": f"Orrin Vale {n}", "phone": f"+441184960{n:03d}", "email": f"vale{n}@example.com"} | about
        return Party.objects.create(**about)

    def terms(self) -> TermsVersion:
        last = TermsVersion.objects.first()
        return last or publish_terms(
            version="1", text="A failing disk can stop at any step.", by=self.everyone(), happened=NOON
        )

    def new_item(self, **about: Any) -> NewItem:
        n = next(self.numbers)
        about = {
            "kind": "disk25",
            "maker": "Pelorus",
            "model": "PL500-2M",
            "serial": f"PW2M{n:06d}",
            "sectors": 976_773_168,
            "sector_bytes": 512,
            "marks": ["nothing"],
            "behaviours": ["slow"],
        } | about
        return NewItem(**about)

    def case(self, *, items: int | Sequence[NewItem] = 1, by: Actor | None = None, **about: Any) -> Case:
        """A finished intake of one or several 2.5-inch disks, signed."""
        self.terms()
        news = [self.new_item() for _ in range(items)] if isinstance(items, int) else items
        about = {"owner": None, "happened": NOON, "told": STORY, "signed": SIGNED} | about
        about["owner"] = about["owner"] or self.party()
        return log_drive(items=news, by=by or self.everyone(), **about)

    def item(self, *, by: Actor | None = None, case: dict[str, Any] | None = None, **about: Any) -> Item:
        """The only item of a new case."""
        return self.case(items=[self.new_item(**about)], by=by, **(case or {})).items.get()


@pytest.fixture
def make(db: None) -> Make:
    return Make()


@pytest.fixture
def noon() -> datetime:
    return NOON


@pytest.fixture
def client_as(make: Make) -> Callable[..., Client]:
    """A logged-in browser for somebody who holds these roles."""

    def log_in(*roles: Role) -> Client:
        client = Client()
        client.force_login(make.staff(roles=roles or PEOPLE))
        return client

    return log_in
