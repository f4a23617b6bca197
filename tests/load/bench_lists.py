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
FEW, MOST, BATCH = 20, 20.0, 2_000

# The address of each list, the model whose rows it shows, and the series of codes its things carry.
LISTS = {
    "custody:things": ("custody.Thing", "D"),
    "custody:place": ("custody.Thing", "D"),
    "stock:parts": ("stock.DonorPart", "P"),
    "stock:destinations": ("stock.Destination", "W"),
    "office:quotes": ("office.Quote", ""),
    "updates:messages": ("updates.Message", ""),
    "cases:enquiries": ("cases.Enquiry", ""),
    "people:search": ("people.Party", ""),
}
STARTS = {"custody:place": 100_001}  # the same things as the list before it, under numbers of their own
ASKED = {"people:search": "?q=orrin"}
NOT_ONCE = {"office.Quote": {"state": "superseded"}}  # a case has one standing quote


def prepare() -> tuple[Any, Any]:
    """An empty lab, somebody who may see all of it, and one row of every kind."""
    import django

    django.setup()
    from django.apps import apps
    from django.core.management import call_command
    from django.test import Client

    from labcases.core import codes
    from labcases.custody.models import Thing
    from labcases.lab.models import Place, Staff
    from labcases.lab.roles import PEOPLE
    from tests.seed import FITTING, Seed

    call_command("migrate", verbosity=0)
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
    client = Client()
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


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--smoke", action="store_true")
    smoke = parser.parse_args().smoke
    many, rounds = (2_000, 3) if smoke else (20_000, 7)
    fine = True
    with tempfile.TemporaryDirectory(prefix="labcases-lists-") as folder:
        os.environ["DATA_DIR"] = folder
        client, seed = prepare()
        from django.urls import reverse

        from labcases.lab.models import Place

        for name, (label, series) in LISTS.items():
            address = reverse(name, args=[Place.objects.get().code] if name == "custody:place" else [])
            address += ASKED.get(name, "")
            start = STARTS.get(name, 1)
            seed_rows(seed, label, series, start, FEW)
            few, short, said_few = asked(client, address, rounds)
            seed_rows(seed, label, series, start + FEW, many - FEW)
            lots, long, said_lots = asked(client, address, rounds)
            ratio = long / short
            good = few == lots and ratio <= MOST and said_lots >= said_few
            fine &= good
            times = f"{short * 1000:.0f} ms → {long * 1000:.0f} ms, ratio {ratio:.1f} (limit {MOST:.0f})"
            print(f"{name}: {few} → {lots} queries for {FEW} → {many} rows; {times}{'' if good else '  TOO MUCH'}")  # noqa: T201
    return 0 if fine else 1


def seed_rows(seed: Any, label: str, series: str, start: int, count: int) -> int:
    from django.db import transaction

    with transaction.atomic():
        fill(seed, label, series, start, count)
    return count


if __name__ == "__main__":
    sys.exit(main())
