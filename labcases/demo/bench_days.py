"""Plays the bench: its machines and their log, what runs tonight, dumps, identities, chips, an array."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from labcases.bench.arrays.actions import Found, find_array
from labcases.bench.dumps.actions import keep_dump
from labcases.bench.evidence.actions import show_findings
from labcases.bench.identity.actions import read_at_bench, remove_chip
from labcases.bench.records import actions as records
from labcases.bench.stations import actions as stations
from labcases.bench.stations.models import Equipment, Port
from labcases.cases.models import Item
from labcases.cases.readings.actions import answer, as_shown
from labcases.cases.readings.comparing import NAMES
from labcases.custody.models import Photo
from labcases.custody.photos.actions import keep, photograph
from labcases.custody.photos.pictures import take_in
from labcases.demo import bench_told as told
from labcases.demo.days import Days
from labcases.demo.pictures import open_disk_photo


def furnish(days: Days) -> None:
    """The machines of the bench, from the first day."""
    for name, kind, serial, note, ports in told.EQUIPMENT:
        about = {"name": name, "kind": kind, "serial": serial, "note": note, "ports": ports}
        days.do(days.ago(90), stations.keep_equipment, **about)


def play(days: Days) -> None:
    _records(days)
    _mishaps(days)
    _evidence(days)
    _identities(days)
    _dumps(days)
    _chip(days)
    _array(days)
    _runs(days)


def _records(days: Days) -> None:
    for name, ago, what, particles, due, note in told.LOG:
        moment = days.ago(ago)
        next_due = None if due is None else moment.date() + timedelta(days=due + (ago if due < 0 else 0))
        about: dict[str, Any] = {"what": what, "particles": particles, "next_due": next_due, "note": note}
        days.do(moment, records.log, equipment=Equipment.objects.get(name=name), **about)
    for who, work, shown_by, again in told.COMPETENCE:
        moment, person = days.ago(80), days.staff[who].staff
        about = {"person": person, "work": work, "shown_by": shown_by, "look_again": moment.date() + timedelta(again)}
        days.do(moment, records.note_competence, "manager", **about)


def _mishaps(days: Days) -> None:
    for ago, key, what, why, done in told.MISHAPS:
        item = days.item(key) if key else None
        made = days.do(days.ago(ago, hours=2), records.note_mishap, what=what, item=item)
        if done:
            days.do(days.ago(ago - 1, hours=1), records.close_mishap, "manager", mishap=made, why=why, done=done)

    for ago, key, what, why, done in told.COMPLAINTS:
        noted = {"what": what, "item": days.item(key), "kind": "complaint"}
        made = days.do(days.ago(ago, hours=1), records.note_mishap, "counter", **noted)
        days.do(days.ago(ago - 1, hours=3), records.close_mishap, "manager", mishap=made, why=why, done=done)


def _evidence(days: Days) -> None:
    """Photos of opened disks, each said to show what was found."""
    shown: dict[int, dict[Photo, str]] = {}
    for key, number, ring, words, fault in told.EVIDENCE:
        item = days.item(key, number)
        data = open_disk_photo(ring=ring, dice=days.dice)
        about = {"thing": item.thing, "kept": [keep(take_in(data), data)], "words": words}
        (photo,) = days.do(days.since(key, 0.001), photograph, **about)
        shown.setdefault(item.pk, {})[photo] = fault
        look = item.examinations.first()
        days.do(days.since(key, 0.002), show_findings, examination=look, photos=dict(shown[item.pk]))


def _identities(days: Days) -> None:
    for key, number, differs, answers in told.IDENTITIES:
        item = days.item(key, number)
        said = {name: getattr(item, name) for name in NAMES if getattr(item, name)} | differs
        reading = days.do(days.since(key, 0.005), read_at_bench, item=item, read=as_shown(said))
        if answers and item.firmware != differs.get("firmware"):
            days.do(days.since(key, 0.007), answer, reading=reading, answers=answers)


def _dumps(days: Days) -> None:
    for key, number, kind, outcome, name, size, twice, note in told.DUMPS:
        data = days.dice.randbytes(size)
        about = {"data": data, "again": data if twice else b"", "name": name, "note": note}
        item = days.item(key, number)
        days.do(days.since(key, 0.012), keep_dump, kind=kind, outcome=outcome, item=item, **about)


def _chip(days: Days) -> None:
    """A stick whose controller is dead: the chip comes off, and is read three times."""
    key = "dissertation"
    about = {"words": told.CHIP, "change": told.CHIP_CHANGE, "serial": "K9-B47D"}
    chip: Item = days.do(days.since(key, 0.2), remove_chip, item=days.item(key), **about)
    first, second, third = told.chip_reads(days.dice)
    same: dict[str, Any] = {"kind": "chip", "outcome": "whole", "item": chip}
    days.do(days.since(key, 0.25), keep_dump, name="reads 1 and 2", data=first, again=second, **same)
    days.do(days.since(key, 0.27), keep_dump, name="read 3", data=third, note="At 4 °C, slower clock.", **same)


def _array(days: Days) -> None:
    key = "archive"
    items = {item.number - 1: item for item in days.case(key).items.order_by("number")}
    for share, level, members, stripe, parity, note, stale, useless in told.ARRAYS:
        found = [
            Found(place, items[place], str(place), 2_048, stale=place in stale, usable=place not in useless)
            for place in range(members)
        ]
        about = {"level": level, "members": members, "found": found, "parity": parity, "note": note}
        days.do(days.since(key, share), find_array, case=days.case(key), stripe_sectors=stripe, **about)


def _runs(days: Days) -> None:
    """What ran on which port, and what runs tonight and who looks at it."""
    watcher = days.staff["engineer"].staff
    for run in told.RUNS:
        port = Port.objects.get(equipment__name=run.machine, name=run.port)
        about: dict[str, Any] = {"port": port, "item": days.item(run.case, run.item), "doing": run.doing}
        session = days.do(days.since(run.case, run.begun), stations.begin, watcher=watcher, **about)
        if run.until is not None:
            over = {"session": session, "ending": run.ending, "hands_on": run.hands_on}
            days.do(days.since(run.case, run.until), stations.end, **over)
