"""Builders of test data: keyword-only, honest defaults, and always through the real actions."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from typing import Any

import pytest
from django.test import Client

from labcases.bench.actions import examine, make_ready, note_step, record_result, start_work
from labcases.cases.actions import expect, log_drive
from labcases.cases.intake import NewItem, Signed, Told, WantedLine
from labcases.cases.models import Case, Item
from labcases.core import codes
from labcases.lab.actions import publish_terms
from labcases.lab.models import Actor, Place, Profile, Staff, TermsVersion
from labcases.lab.roles import PEOPLE, Role
from labcases.office.actions import accept_quote, send_quote, take_payment
from labcases.office.queries import balance_of
from labcases.people.models import Party
from labcases.stock.actions import assign_destination, keep_family, stock_destination, stock_donor
from labcases.stock.models import Destination, Donor, DonorPart, Family

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

    def expected(self, *, items: int | Sequence[NewItem] = 1, by: Actor | None = None, **about: Any) -> Case:
        """A case whose items are on their way by post."""
        news = [self.new_item() for _ in range(items)] if isinstance(items, int) else items
        about = {"owner": None, "happened": NOON} | about
        about["owner"] = about["owner"] or self.party()
        return expect(items=news, by=by or self.everyone(), **about)

    def examined(self, *, items: int = 1, prospects: str = "good", **about: Any) -> Case:
        """A case whose items are examined and wait for a price."""
        case = self.case(items=items, **about)
        for item in case.items.all():
            findings = {"faults": ["reading"], "found": "Reads slowly.", "prospects": prospects}
            examine(item=item, by=self.everyone(), happened=NOON, **findings)
        return case

    def worked(self, case: Case, *items: Item, price: int = 30_000, **result: Any) -> Case:
        """Examine, quote, accept, work, check and make ready these items (all of the case unless named)."""
        by, chosen = self.everyone(), list(items or case.items.all())
        for item in chosen:
            examine(item=item, by=by, happened=NOON, faults=["reading"], found="Reads slowly.", prospects="good")
        quote = send_quote(case=case, lines=[("Copying and recovery", price)], by=by, happened=NOON)
        accept_quote(quote=quote, who=case.payer.name, how="signed at the counter", by=by, happened=NOON)
        about = {"files": 1_204, "bytes": 5_368_709_120, "compared": "full", "sectors_read": 976_773_167} | result
        for item in Item.objects.filter(pk__in=[item.pk for item in chosen]):
            start_work(item=item, by=by, happened=NOON)
            note_step(item=item, what="Copied sector by sector.", copied=True, by=by, happened=NOON)
            record_result(item=item, sectors_total=item.sectors, by=by, happened=NOON, **about)
            make_ready(item=item, by=by, happened=NOON)
        return case

    def paid(self, case: Case) -> Case:
        """Pay what is owed."""
        take_payment(case=case, amount=balance_of(case), method="cash", by=self.everyone(), happened=NOON)
        return case

    def delivery(self, item: Item, **about: Any) -> Destination:
        """One of the lab's media, set aside to carry this item's files out."""
        about = {"kind": "stick", "model": "Stub 128", "sectors": 250_069_680, "sector_bytes": 512} | about
        made = stock_destination(use="delivery", by=self.everyone(), happened=NOON, **about)
        assign_destination(destination=made, patient=item, by=self.everyone(), happened=NOON)
        return made

    # --- stock ---

    def family(self, name: str = "", *, aliases: Sequence[tuple[str, str]] = (), **about: Any) -> Family:
        """A family with the model numbers it is sold under, as (maker or "", beginning)."""
        name = name or f"Pelorus Minnow {next(self.numbers)}"
        return keep_family(name=name, aliases=aliases, by=self.everyone(), happened=NOON, **about)

    def donor(self, *, parts: Sequence[str] = ("head stack",), by: Actor | None = None, **about: Any) -> Donor:
        """A donor like the patient of ``make.item``, in the hands of who took it into stock."""
        n = next(self.numbers)
        about = {
            "kind": "disk25",
            "maker": "Pelorus",
            "model": "PL500-2M",
            "serial": f"PD2M{n:06d}",
            "sectors": 976_773_168,
            "sector_bytes": 512,
            "heads": 2,
        } | about
        return stock_donor(parts=parts, by=by or self.everyone(), happened=NOON, **about)

    def part(self, part: str = "head stack", **about: Any) -> DonorPart:
        """The only part of a new donor."""
        return self.donor(parts=[part], **about).parts.select_related("donor__family", "thing").get()

    def destination(self, *, by: Actor | None = None, **about: Any) -> Destination:
        """A new and sealed disk, as large as the patient of ``make.item``."""
        n = next(self.numbers)
        about = {
            "kind": "disk35",
            "maker": "Corvane",
            "model": "CT1000-NAS",
            "serial": f"CW{n:07d}",
            "sectors": 976_773_168,
            "sector_bytes": 512,
        } | about
        return stock_destination(by=by or self.everyone(), happened=NOON, **about)


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
