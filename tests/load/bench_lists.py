"""Each list of the lab with 20 rows and with 20,000: the same number of questions to the database, and how much slower.

    python tests/load/bench_lists.py            20 and 20,000 rows
    python tests/load/bench_lists.py --smoke    20 and 2,000 rows, judged the same

Rows are written past every verb, since twenty thousand intakes would take an hour; what is measured is the reading.
Both sizes are asked through the whole stack, in this process. Ends with 1 when a page asks more for more rows, when it
says less than a full page, or when the larger list takes more than MOST times as long as the small one.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import time
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
os.environ["DJANGO_SETTINGS_MODULE"] = "labcases.settings"
os.environ["SITE_URL"] = "http://testserver"  # as Django's own client calls itself
FEW, MOST, BATCH = 20, 6.0, 2_000

# The rows that lists show, the series of codes their things carry, and the lists.
LISTS = [
    ("custody.Thing", "D", ["custody:things", "custody:place"]),
    ("stock.DonorPart", "P", ["stock:parts"]),
    ("stock.Destination", "W", ["stock:destinations"]),
    ("office.Quote", "", ["office:quotes"]),
    ("updates.Message", "", ["updates:messages"]),
    ("cases.Enquiry", "", ["cases:enquiries"]),
    ("people.Party", "", ["people:search"]),
]
ASKED = {"people:search": "?q=orrin"}
NOT_ONCE = {"office.Quote": {"state": "superseded"}}  # a case has one standing quote


def prepare() -> tuple[Any, Any]:
    """An empty lab, somebody who may see all of it, and one row of every kind."""
    import django

    django.setup()
    from django.apps import apps
    from django.conf import settings
    from django.core.management import call_command
    from django.test import Client

    from labcases.core import codes
    from labcases.custody.models import Thing
    from labcases.lab.models import Place, Staff
    from labcases.lab.roles import PEOPLE
    from tests.seed import FITTING, Seed

    settings.STORAGES["staticfiles"]["BACKEND"] = "django.contrib.staticfiles.storage.StaticFilesStorage"
    settings.STATIC_ROOT.mkdir(parents=True)
    from tests.load.tables import make_tables

    make_tables()
    call_command("collectstatic", interactive=False, verbosity=0)
    place = Place.objects.create(name="Shelf", code=codes.with_check(codes.stock_body("S", 1)))
    fitting = {
        "custody.thing": {"code": codes.with_check(codes.case_body(2026, 1)), "place": place, "words": "A docket"},
        "people.party": {"name": "Orrin Vale", "phone": "+441184960743"},
        "cases.case": {"currency": "EUR"},
        "stock.destination": {"currency": "EUR"},
        "office.quote": {"currency": "EUR", "lines": []},
    }
    merged = FITTING | {label: FITTING.get(label, {}) | more for label, more in fitting.items()}
    seed = Seed(apps, fitting=merged)
    thing = seed.of(Thing)
    client = Client(headers={"host": "127.0.0.1"})
    client.force_login(Staff.objects.create_user(login="all", name="All", password="-" * 20, roles=PEOPLE))
    assert thing.place == place
    return client, seed


def fill(seed: Any, label: str, series: str, start: int, count: int) -> None:
    """``count`` more rows like the first, each with a thing of its own where it has one."""
    from django.apps import apps

    model = apps.get_model(label)
    first = seed.of(model)
    fields = [field for field in model._meta.concrete_fields if not field.primary_key]
    same = {field.attname: getattr(first, field.attname) for field in fields} | NOT_ONCE.get(label, {})
    for numbers in batches(start, count):
        things = make_things(series, numbers) if series and label != "custody.Thing" else []
        if label == "custody.Thing":
            make_things(series, numbers)
            continue
        rows = [model(**same | fresh(fields, n)) for n in numbers]
        for row, thing in zip(rows, things, strict=False):
            row.thing = thing
        model._base_manager.bulk_create(rows)
        if label == "people.Party":
            make_words(rows)


def make_words(parties: list[Any]) -> None:
    """What each party is found by."""
    from labcases.people.models import PartyWord

    PartyWord.objects.bulk_create([PartyWord(party=one, word=word) for one in parties for word in ("orrin", "vale")])


def batches(start: int, count: int) -> Iterator[list[int]]:
    for begin in range(start, start + count, BATCH):
        yield list(range(begin, min(begin + BATCH, start + count)))


def fresh(fields: list[Any], n: int) -> dict[str, Any]:
    """What may only be there once."""
    names = {field.name for field in fields}
    once: dict[str, Any] = {field.name: uuid.uuid4() for field in fields if field.name == "ref"}
    once |= {"number": 1_000 + n} if "number" in names else {}
    return once | ({"part": "chip"} if "part" in names else {})  # a donor has many chips, one of most other parts


def make_things(series: str, numbers: list[int]) -> list[Any]:
    from labcases.core import codes
    from labcases.custody.models import Thing
    from labcases.lab.models import Place

    kinds = {"D": Thing.Kind.DONOR, "P": Thing.Kind.PART, "W": Thing.Kind.DESTINATION}
    bodies = [f"D00001P{n}" if series == "P" else codes.stock_body(series, 10_000 + n) for n in numbers]
    place = Place.objects.get()
    words = {"kind": kinds[series], "words": "3.5″ disk, Pelorus PL500-2M", "place": place}
    return Thing.objects.bulk_create([Thing(code=codes.with_check(body), **words) for body in bodies])


def asked(client: Any, address: str, rounds: int) -> tuple[int, float, int]:
    """Queries and seconds of one page, and how many rows it says."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    client.get(address)  # templates and statements are read once a process
    connection.ensure_connection()
    with CaptureQueriesContext(connection) as ran:
        page = client.get(address).content.decode()
    questions = len(ran)  # counted now: the next request forgets them
    times = []
    for _ in range(rounds):
        began = time.perf_counter()
        assert client.get(address).status_code == 200
        times.append(time.perf_counter() - began)
    if not questions:
        raise SystemExit(f"{address} asked nothing: this run would judge nothing.")
    return questions, statistics.median(times), page.count("<tr") + page.count("<li")


def address_of(name: str) -> str:
    from django.urls import reverse

    from labcases.lab.models import Place

    return reverse(name, args=[Place.objects.get().code] if name == "custody:place" else []) + ASKED.get(name, "")


def judged(name: str, few: tuple[int, float, int], lots: tuple[int, float, int], many: int) -> bool:
    """Print one line; whether it is within the limits, on pages that were full."""
    ratio = lots[1] / few[1]
    good = few[0] == lots[0] and ratio <= MOST and lots[2] > few[2] >= FEW
    times = f"{few[1] * 1000:.0f} ms → {lots[1] * 1000:.0f} ms, ratio {ratio:.1f} (limit {MOST:.0f})"
    shown = f"{few[2]} → {lots[2]} lines shown"
    print(f"{name}: {few[0]} → {lots[0]} queries for {FEW} → {many} rows; {shown}; {times}{'' if good else '  WRONG'}")  # noqa: T201
    return good


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--smoke", action="store_true")
    smoke = parser.parse_args().smoke
    many, rounds = (2_000, 3) if smoke else (20_000, 7)
    fine = True
    with tempfile.TemporaryDirectory(prefix="labcases-lists-") as folder:
        os.environ["DATA_DIR"] = folder
        client, seed = prepare()
        for label, series, names in LISTS:
            fill(seed, label, series, 1, FEW)
            few = {name: asked(client, address_of(name), rounds) for name in names}
            fill(seed, label, series, 1 + FEW, many - FEW)
            for name, small in few.items():
                fine &= judged(name, small, asked(client, address_of(name), rounds), many)
    return 0 if fine else 1


if __name__ == "__main__":
    sys.exit(main())
