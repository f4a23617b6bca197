"""Load the invented lab.

Every record is made by the same action as a real one, with the clock set back to its moment.
"""

from __future__ import annotations

import random
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from labcases.cases.models import Case
from labcases.core.text import folded_serial
from labcases.custody import actions as custody
from labcases.demo import bench_days, desk_days, files_days, people, proof_days, reader, shelves_days, stock, stories
from labcases.demo.clock import set_to
from labcases.demo.days import Days
from labcases.demo.pictures import logo
from labcases.demo.player import Player
from labcases.lab.actions import change_profile, publish_terms
from labcases.lab.models import Actor, Place, Staff
from labcases.lab.roles import Role
from labcases.people.models import Party
from labcases.stock import actions as stockroom
from labcases.stock.models import Family, FamilyAlias

LOG_INS = [(login, password, ", ".join(roles)) for login, _, password, roles in people.STAFF]
DAYS = 95
MORE_CASES, DONORS, BY_HAND, MEDIA = 14, 60, 8, 25  # three months of a small lab


def load(stdout: Any) -> None:
    """Fill an empty database. The same dice every time, so that every demo looks the same."""
    dice = random.Random(20)  # noqa: S311 dice for stories, no secret
    morning = timezone.now().replace(hour=8, minute=0, second=0, microsecond=0)
    with set_to(morning - timedelta(days=DAYS), timezone):
        staff = _staff()
        days = Days(staff, morning, dice)
        _lab(staff)
        _families()
        _stockroom(days)
        owners = [_owner(n) for n in range(len(people.OWNERS))]
        reseller = desk_days.party(people.RESELLER, 99, on_account=True)
    for room in (bench_days, shelves_days, proof_days, desk_days):
        room.furnish(days)
    told = [*stories.TOLD, *stories.more(MORE_CASES, dice)]
    for story in sorted(told, key=lambda story: -story.ago):
        player = Player(staff=staff, dice=dice, start=_moment(morning, story.ago, dice), now=timezone.now)
        case = player.play(story, owner=owners[story.owner], reseller=reseller)
        if story.key:
            days.played[story.key] = case, player.moment
    reader.play(days)
    files_days.play(days)
    for room in (bench_days, shelves_days, proof_days, desk_days):
        room.play(days)
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
    change_profile(by=manager, happened=now, logo=logo(), logo_type="image/png", **people.LAB)
    publish_terms(version="1 September 2026", text=people.TERMS, by=manager, happened=now)
    for name, kind in people.PLACES:
        custody.add_place(name=name, kind=kind, by=manager, happened=now)


def _families() -> None:
    for name, maker, model, _, heads, platters, *_ in stock.FAMILIES:
        quirks = stock.QUIRKS.get(name, "")
        about = {"heads": heads, "platters": platters, "quirks": quirks, **stock.NATURE.get(name, {})}
        family = Family.objects.create(name=name, **about)
        aliases = ((maker, model), *stock.ALSO_SOLD_AS.get(name, ()))
        for sold_by, start in aliases:
            FamilyAlias.objects.create(family=family, maker=sold_by, model_start=folded_serial(start))


def _stockroom(days: Days) -> None:
    """Most of it from the spreadsheet of the years before, the rest as it came."""
    shelves, dice = list(Place.objects.filter(kind=Place.Kind.SHELF)), days.dice
    engineer, now = days.staff["engineer"], timezone.now()
    donors = list(stock.donors(DONORS, dice))
    table = stock.table(donors[BY_HAND:], [shelf.name for shelf in shelves], dice)
    shelves_days.bring_table(days, "donors", table, "shelves-until-summer.csv", now)
    for about in donors[:BY_HAND]:
        stockroom.stock_donor(by=engineer, happened=now, at=dice.choice(shelves), parts=stock.PARTS, **about)
    for about in stock.media(MEDIA, dice):
        stockroom.stock_destination(by=engineer, happened=now, at=dice.choice(shelves), **about)


def _owner(n: int) -> Party:
    return desk_days.party(people.OWNERS[n], n)


def _moment(morning: datetime, days_ago: int, dice: random.Random) -> datetime:
    """Some minute of a working day; never later than now."""
    moment = morning - timedelta(days=days_ago) + timedelta(minutes=dice.randrange(20, 420))
    return min(moment, timezone.now() - timedelta(minutes=30 + dice.randrange(60)))
