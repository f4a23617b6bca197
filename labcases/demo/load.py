"""Load the invented lab.

Every record is made by the same action as a real one, with the clock set back to its moment.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from labcases.bench.records import actions as records
from labcases.bench.stations.actions import begin, keep_equipment
from labcases.cases import actions as counter
from labcases.cases.models import Case, Item
from labcases.cases.stages import Stage
from labcases.core.text import folded_serial
from labcases.custody import actions as custody
from labcases.demo import people, stock, stories
from labcases.demo.clock import set_to
from labcases.demo.player import Player
from labcases.lab.actions import change_profile, publish_terms
from labcases.lab.models import Actor, Place, Staff
from labcases.lab.roles import Role
from labcases.people.actions import remember
from labcases.people.models import Party
from labcases.stock import actions as stockroom
from labcases.stock.models import Family, FamilyAlias

LOG_INS = [(login, password, ", ".join(roles)) for login, _, password, roles in people.STAFF]
DAYS = 95
MORE_CASES, DONORS, MEDIA = 24, 60, 25  # three months of a small lab


def load(stdout: Any) -> None:
    """Fill an empty database. The same dice every time, so that every demo looks the same."""
    dice = random.Random(20)  # noqa: S311 dice for stories, no secret
    morning = timezone.now().replace(hour=8, minute=0, second=0, microsecond=0)
    with set_to(morning - timedelta(days=DAYS), timezone):
        staff = _staff()
        _lab(staff)
        _families()
        _stockroom(staff, dice)
        owners = [_owner(n) for n in range(len(people.OWNERS))]
        reseller = _party(people.RESELLER, 99, on_account=True)
    told = [*stories.TOLD, *stories.more(MORE_CASES, dice)]
    for story in sorted(told, key=lambda story: -story.ago):
        player = Player(staff=staff, dice=dice, start=_moment(morning, story.ago, dice), now=timezone.now)
        player.play(story, owner=owners[story.owner], reseller=reseller)
    _enquiries(staff, morning)
    _bench(staff, morning)
    stdout.write(f"  {Case.objects.count()} cases, {DONORS} donors, {MEDIA} destinations and delivery media")


def _staff() -> dict[str, Actor]:
    """The colleagues, each acting in the role the demo needs them in."""
    made = {
        login: Staff.objects.create_user(login=login, name=name, password=password, roles=roles)
        for login, name, password, roles in people.STAFF
    }
    return {
        "counter": Actor(made["bram"], Role.COUNTER),
        "engineer": Actor(made["ines"], Role.ENGINEER),
        "manager": Actor(made["mara"], Role.MANAGER),
    }


def _lab(staff: dict[str, Actor]) -> None:
    manager, now = staff["manager"], timezone.now()
    change_profile(by=manager, happened=now, **people.LAB)
    publish_terms(version="1 September 2026", text=people.TERMS, by=manager, happened=now)
    for name, kind in people.PLACES:
        custody.add_place(name=name, kind=kind, by=manager, happened=now)


def _families() -> None:
    for name, maker, model, _, heads, platters, *_ in stock.FAMILIES:
        quirks = stock.QUIRKS.get(name, "")
        family = Family.objects.create(name=name, heads=heads, platters=platters, quirks=quirks)
        aliases = ((maker, model), *stock.ALSO_SOLD_AS.get(name, ()))
        for sold_by, start in aliases:
            FamilyAlias.objects.create(family=family, maker=sold_by, model_start=folded_serial(start))


def _stockroom(staff: dict[str, Actor], dice: random.Random) -> None:
    shelves = list(Place.objects.filter(kind=Place.Kind.SHELF))
    engineer, now = staff["engineer"], timezone.now()
    for about in stock.donors(DONORS, dice):
        parts = stock.PARTS if dice.random() > 0.3 else stock.PARTS[:2]
        stockroom.stock_donor(by=engineer, happened=now, at=dice.choice(shelves), parts=parts, **about)
    for about in stock.media(MEDIA, dice):
        stockroom.stock_destination(by=engineer, happened=now, at=dice.choice(shelves), **about)


def _owner(n: int) -> Party:
    return _party(people.OWNERS[n], n)


def _party(told: tuple[str, str, str, str], n: int, **more: Any) -> Party:
    name, company, digits, address = told
    return remember(
        name=name, company=company, phone=people.phone(digits), email=people.mail(name, n), address=address, **more
    )


def _moment(morning: datetime, days_ago: int, dice: random.Random) -> datetime:
    """Some minute of a working day; never later than now."""
    moment = morning - timedelta(days=days_ago) + timedelta(minutes=dice.randrange(20, 420))
    return min(moment, timezone.now() - timedelta(minutes=30 + dice.randrange(60)))


def _bench(staff: dict[str, Actor], morning: datetime) -> None:
    """Machines and their log, who may do what, what went wrong, and what runs now."""
    engineer, manager, yesterday = staff["engineer"], staff["manager"], morning - timedelta(days=1)
    with set_to(yesterday, timezone):
        about: dict[str, Any] = {"by": engineer, "happened": yesterday}
        machine = keep_equipment(name="Bench machine 1", kind="machine", ports=["left", "right"], **about)
        air = keep_equipment(name="Clean bench by the window", kind="clean bench", **about)
        due = yesterday.date()
        records.log(equipment=air, what="count", particles=1_240, next_due=due + timedelta(days=30), **about)
        records.log(equipment=air, what="filter", next_due=due - timedelta(days=3), note="prefilter", **about)
        if engineer.staff:
            shown = "Twelve openings beside a colleague."
            about = {"person": engineer.staff, "work": "clean", "shown_by": shown, "happened": yesterday}
            records.note_competence(by=manager, look_again=due + timedelta(days=365), **about)
        what = "A caddy was put back on the wrong shelf and searched for an hour."
        records.note_mishap(what=what, done="Caddies are labelled at the counter now.", by=engineer, happened=yesterday)
        at_work = Item.objects.with_context().filter(stage=Stage.IN_WORK, parent=None, kind="disk25").first()
        if at_work:
            port = machine.ports.all()[0]
            doing, watcher = "second pass, smaller steps", engineer.staff
            begin(port=port, item=at_work, doing=doing, watcher=watcher, by=engineer, happened=yesterday)


def _enquiries(staff: dict[str, Actor], morning: datetime) -> None:
    clerk = staff["counter"]
    asked: list[tuple[int, Callable[..., Any], dict[str, Any]]] = [
        (
            2,
            counter.enquire,
            {
                "name": "Rosalind Tew",
                "reach": "0118 496 0777",
                "kind": "disk35",
                "asked": "A disk that hums and is not seen. Accounts of a small firm.",
                "advice": "Leave it off. Do not open, freeze or knock it. Pack it padded.",
                "price_from": 18_000,
                "price_to": 70_000,
            },
        ),
        (
            5,
            counter.refuse,
            {
                "name": "A man with a box of tablets",
                "kind": "phone",
                "asked": "Wanted the codes taken off.",
                "reason": "Could not say whose they are.",
            },
        ),
    ]
    for ago, verb, about in asked:
        moment = morning - timedelta(days=ago)
        with set_to(moment, timezone):
            verb(by=clerk, happened=moment, **about)
