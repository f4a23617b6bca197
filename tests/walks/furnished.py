"""A small lab that has something of everything, so that each page of it has something to show."""

from __future__ import annotations

import io
import itertools
import uuid
from collections.abc import Iterator
from http import HTTPStatus
from typing import Any

from django.apps import apps
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from labcases.cases.actions import enquire
from labcases.cases.models import Case, Draft
from labcases.cases.pads.actions import reserve_pad
from labcases.cases.pads.models import ReservedCode
from labcases.cases.scans.actions import keep_signed_paper
from labcases.cases.scans.judging import judge
from labcases.cases.secrecy.actions import put_secret
from labcases.cases.secrets import Plain
from labcases.core import vault
from labcases.custody.models import Thing
from labcases.custody.photos.actions import Kept, keep, photograph
from labcases.custody.photos.pictures import take_in
from labcases.custody.scanning.actions import ask
from labcases.imports import actions as imports
from labcases.imports.tasks import go_on as work_on_imports
from labcases.lab.models import Actor, Place
from labcases.people.merging.actions import merge
from labcases.stock import actions as stockroom
from labcases.stock.pools.actions import assign_pool, keep_pool
from labcases.stock.takes.actions import begin_take
from labcases.updates.actions import send_update
from tests.builders import NOON, Make
from tests.house.addresses import STAND_INS, Address

MOST_TRIED = 60  # of one address
DRAFT = uuid.UUID(int=4)
LONG = "Wilhelmina Aurelia Featherstonehaugh-Cholmondeley of the Upper Marsh Lane Brass and Woodwind Choir Society"


def furnish(make: Make, by: Actor) -> None:
    """Cases in every state, stock, and what the pages of counter, stockroom and bench hang on."""
    make.profile(name="Quayside Media Lab", email="lab@example.com")
    shelf = [make.place(kind="counter", name="Counter"), make.place(name="Shelf A1")][1]
    make.expected(by=by)
    fresh = make.case(items=2, owner=make.party(name=LONG), by=by)
    make.examined()
    make.paid(make.worked(make.case()))
    _counter(fresh, by)
    gone, kept = make.party(), make.party(name=LONG)
    merge(kept=kept, gone=gone, by=by, happened=timezone.now(), because="The same person, typed twice.")
    _stock(make, fresh, shelf, by)
    for steps, serial in enumerate(("QX10001", "QX10002", "QX10003")):
        _bring_table(serial, steps, by)


def _counter(case: Case, by: Actor) -> None:
    enquire(by=by, happened=NOON, name=LONG, reach="+44 118 496 0991", asked="A stick that is not seen.")
    reserve_pad(count=2, by=by, happened=NOON)
    Draft.objects.create(key=DRAFT, person=by.staff, typed="name=Orrin+Vale&item-0-kind=disk25")
    keep_signed_paper(case=case, scan=judge(_picture("ivory")), by=by, happened=timezone.now())
    item = case.items.all()[0]
    photograph(thing=item.thing, kept=[_photo("teal"), _photo("tan")], by=by, happened=timezone.now(), words="label")
    put_secret(case=case, item=item, kind="code", secret=Plain("2468"), by=by, happened=timezone.now())
    send_update(case=case, to="vale@example.com", subject="News", body="It reads well.", by=by, happened=timezone.now())
    ask(things=[item.thing], to=by.staff, by=by, happened=timezone.now())


def _stock(make: Make, case: Case, shelf: Place, by: Actor) -> None:
    make.family()
    make.donor(parts=["head stack", "controller board"], by=by)
    make.destination(by=by)
    first, second = case.items.all()
    stockroom.raise_need(patient=first, part="motor", by=by, happened=NOON)
    pool = keep_pool(name="Array under the stairs", capacity=20_000_000_000_000, by=by, happened=NOON)
    assign_pool(pool=pool, patient=second, by=by, happened=NOON)
    begin_take(places=[shelf], by=by, happened=NOON)


def _bring_table(serial: str, steps: int, by: Actor) -> None:
    """A table of donors: its columns to choose, checked, or taken in."""
    with vault.incoming() as file:
        file.write_text(f"Kind,Model,Serial,Parts\nstick,QX4,{serial},chip\ndrum,QX4,{serial}9,chip\n")
        table = imports.start(kind="donors", file=file, name="shelf.csv", by=by, happened=timezone.now())
    if steps > 0:
        imports.check(table=table, mapping=table.mapping, by=by)
        work_on_imports(seconds=60)
    if steps > 1:
        imports.take_in(table=table, skip_refused=True, by=by, happened=timezone.now())
        work_on_imports(seconds=60)


def _picture(colour: str) -> bytes:
    picture = io.BytesIO()
    Image.new("RGB", (640, 480), colour).save(picture, "JPEG")
    return picture.getvalue()


def _photo(colour: str) -> Kept:
    return keep(take_in(_picture(colour)), _picture(colour))


# --- where its pages are


def pages_of(client: Client, address: Address) -> Iterator[tuple[str, HttpResponse]]:
    """The filled addresses of this name that answer with a whole page, and the answers."""
    for gaps in itertools.islice(_fillings(address), MOST_TRIED):
        path = reverse(address.name, kwargs=gaps)
        if address.name == "cases:take-in":
            path += f"?draft={DRAFT}"
        answer = client.get(path)
        if answer.status_code == HTTPStatus.METHOD_NOT_ALLOWED:
            return  # only ever pressed
        is_page = answer.headers.get("Content-Type", "").startswith("text/html")
        if answer.status_code == HTTPStatus.OK and is_page and b"<html" in answer.content:
            yield path, answer


def _fillings(address: Address) -> Iterator[dict[str, Any]]:
    """Every gap from what the lab holds, all combinations."""
    models = apps.get_app_config(address.name.partition(":")[0]).get_models()
    keys = {key for model in models for key in model._default_manager.values_list("pk", flat=True)[:12]}
    known: dict[str, list[Any]] = {"code": _codes(), "number": [1], "language": ["en"], "kind": _kinds(address)}
    known |= {"key": ["ready"] if address.name.startswith("updates") else [DRAFT], "purpose": ["spans"]}
    if address.name == "cases:void-sheet":
        known["code"] = list(ReservedCode.objects.values_list("code", flat=True))
    known |= {"part": ["head stack"], "pad": [1]}
    numbers = sorted({1} | {key for key in keys if isinstance(key, int)})
    lists = [
        known.get(gap) or (numbers if kind == "IntConverter" else [STAND_INS.get(kind, kind)])
        for gap, kind in address.gaps.items()
    ]
    for values in itertools.product(*lists):
        yield dict(zip(address.gaps, values, strict=True))


def _kinds(address: Address) -> list[str]:
    return ["donors"] if address.name.startswith("imports") else ["disk25", "disk"]


def _codes() -> list[str]:
    things = [str(thing) for kind in Thing.Kind for thing in Thing.objects.filter(kind=kind)[:6]]
    return [*things, *Place.objects.values_list("code", flat=True)[:2]]
