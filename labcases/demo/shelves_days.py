"""Plays the stockroom: pools, buying, reservations, counting, rules of the lab's own, health, a table taken in."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from textwrap import wrap
from typing import Any

from django.utils import timezone

from labcases.cases.models import Item
from labcases.cases.scans.judging import judge as judge_scan
from labcases.core import vault
from labcases.demo import shelves_told as told
from labcases.demo.clock import set_to
from labcases.demo.days import Days
from labcases.demo.pictures import signed_form
from labcases.imports import actions as imports
from labcases.imports.tasks import go_on as work_on_imports
from labcases.stock import actions as stockroom
from labcases.stock.actions import buying
from labcases.stock.models import Destination, DonorPart, Family, Need
from labcases.stock.pools import actions as pools
from labcases.stock.rules import RULES, PartKind, Rule
from labcases.stock.takes import actions as takes
from labcases.stock.wiping.actions import check_health


def furnish(days: Days) -> None:
    """Pools and rules, from the first weeks."""
    for name, where, capacity, note in told.POOLS:
        about: dict[str, Any] = {"name": name, "where": where, "capacity": capacity, "note": note}
        days.do(days.ago(88), pools.keep_pool, in_use=name != "Old rack", **about)
    _own_rules(days)


def play(days: Days) -> None:
    _pool(days)
    _needs(days)
    _reserve(days)
    _health(days)
    _own_medium(days)
    bring_table(days, "donors", told.SHELF_TABLE, "second-tide-spares.csv", days.ago(6, hours=3))
    _count(days)


def _own_rules(days: Days) -> None:
    """One family has a rule that its failures taught; a code on its label is looked at as well."""
    family, part, changed, added, because = told.OWN_RULES
    name, stands = told.LABEL_CODE
    days.do(days.ago(70), stockroom.keep_label_code, "manager", name=name, stands=stands)
    rules = [*_changed(part, changed), *(Rule.from_record(record) for record in added)]
    about: dict[str, Any] = {"part": part, "family": Family.objects.get(name=family), "rules": rules, "seen": 0}
    days.do(days.ago(70), stockroom.keep_rules, "manager", because=because, **about)
    part, changed, because = told.COMMON_RULES
    about = {"part": part, "family": None, "rules": _changed(part, changed), "seen": 0}
    days.do(days.ago(52), stockroom.keep_rules, "manager", because=because, **about)


def _changed(part: str, changed: dict[str, dict[str, Any]]) -> list[Rule]:
    records = [rule.as_record() for rule in RULES[PartKind(part)]]
    return [Rule.from_record(record | changed.get(record["attribute"], {})) for record in records]


def _pool(days: Days) -> None:
    """One image became smaller than it was reserved for."""
    image = days.item("archive", 4).pool_images.get(ended=None)
    about = {"image": image, "size": image.size // 2, "because": told.RESIZED}
    days.do(days.since("archive", 0.3), pools.resize_image, **about)


def _needs(days: Days) -> None:
    for key, part, note, steps in told.NEEDS:
        item = days.item(key)
        begin = days.ago(steps[0][0] + 0.4) if steps else days.since(key, 0.3)
        need = Need.objects.still_open().filter(item=item, part=part).first()
        if need is None:
            need = days.do(begin, buying.raise_need, patient=item, part=part, note=note)
        for ago, step, said in steps:
            _step_on(days, need, ago, step, dict(said))


def _step_on(days: Days, need: Need, ago: float, step: str, said: dict[str, Any]) -> None:
    moment = days.ago(ago)
    if "days" in said:
        said["promised"] = moment.date() + timedelta(days=said.pop("days"))
    verbs: dict[str, Callable[..., Need]] = {
        "order": buying.order_need,
        "receive": buying.receive_need,
        "wrong": buying.wrong_inside,
        "back": buying.send_back,
        "drop": buying.drop_need,
    }
    days.do(moment, verbs[step], need=need, **said)


def _reserve(days: Days) -> None:
    for key, part, kept, because in told.RESERVED:
        item = days.item(key)
        free = _fitting(item, part)
        if free:
            until = days.ago(0) + timedelta(days=kept)
            about: dict[str, Any] = {"part": free[0], "patient": item, "until": until, "because": because}
            days.do(days.since(key, 0.5), stockroom.reserve_part, **about)


def _fitting(item: Item, part: str) -> list[DonorPart]:
    free = DonorPart.objects.unreserved(at=timezone.now()).filter(part=part).with_context()[:40]
    return [one for one in free if not stockroom.judge(one, item).excluded]


def _health(days: Days) -> None:
    free = list(Destination.objects.filter(state__in=Destination.CLEAN, use="clone").order_by("-pk")[:3])
    for at, passed, figures, because in told.HEALTH:
        about: dict[str, Any] = {"destination": free[at], "passed": passed, "because": because, **figures}
        days.do(days.ago(4, hours=at), check_health, **about)


def _own_medium(days: Days) -> None:
    """A customer brings the disk that the files go home on; it is not empty."""
    key, shelf = "harbour", days.place("Shelf B1")
    about = {"own_of": days.case(key), "at": shelf, **told.OWN_MEDIUM}
    medium = days.do(days.since(key, 0.1), stockroom.stock_destination, **about)
    said = [
        "Consent of the owner",
        "",
        f"Medium {medium}, {medium.medium_words}",
        "",
        *wrap(told.CONSENT["consent"], 80),
    ]
    scan = judge_scan(signed_form([*said, "", f"Signed: {told.CONSENT['consent_by']}"], dice=days.dice))
    days.do(days.since(key, 0.12), stockroom.note_consent, destination=medium, scan=scan, **told.CONSENT)


def bring_table(days: Days, kind: str, text: str, name: str, moment: Any, who: str = "engineer") -> None:
    """A table comes in, is checked and taken in; the worker's chunks are done here at once."""
    with vault.incoming() as file:
        file.write_text(text)
        table = days.do(moment, imports.start, who, kind=kind, file=file, name=name)
    with set_to(moment, timezone):
        imports.check(table=table, mapping=table.mapping, by=days.staff[who])
        work_on_imports()
        imports.take_in(table=table, skip_refused=True, by=days.staff[who], happened=moment)
        work_on_imports()


def _count(days: Days) -> None:
    """A stocktake that somebody has begun this week and not ended."""
    first, second = (days.place(name) for name in told.COUNTED_AT)
    moment, places = days.ago(1, hours=6), [first, second]
    take = days.do(moment, takes.begin_take, places=places, words="Shelves before the end of the year")
    lines = list(take.lines.order_by("pk"))
    for n, line in enumerate(lines[: len(lines) * 3 // 5]):
        at = second if n == 3 else line.expected_at
        days.do(moment + timedelta(minutes=1 + n), takes.count, take=take, read=line.code, place=at)
    elsewhere = Destination.objects.filter(thing__place__name="Shelf A2").select_related("thing").first()
    if elsewhere:
        late = moment + timedelta(minutes=50)
        days.do(late, takes.count, take=take, read=elsewhere.thing.code, place=first)
    days.do(moment + timedelta(minutes=51), takes.count, take=take, read=told.STRANGER, place=second)
