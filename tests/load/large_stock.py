"""An invented stockroom of any size in a database of its own, for the benchmark of matching.

Rows are written past every verb, since two hundred thousand donors would take a day; what is measured is the reading.
"""

from __future__ import annotations

import os
import random
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

FAMILIES, SHELVES, BATCH = 100, 40, 2_000
MAKERS = ("Pelorus", "Orrery", "Skerry", "Tamarin", "Ludlow", "Vantry", "Quillon", "Harrow")
SECTORS = (625_142_448, 976_773_168, 1_953_525_168, 3_907_029_168, 7_814_037_168)


def prepare() -> Any:
    """An empty lab with its families, its shelves and one patient of the first family, in the DATA_DIR of the
    environment.
    """
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labcases.settings")
    import django

    django.setup()
    from django.apps import apps

    from labcases.cases.models import Item
    from labcases.core import codes
    from labcases.lab.models import Place
    from labcases.stock.models import Donor, DonorPart, Family
    from tests.load.tables import make_tables
    from tests.seed import FITTING, Seed

    make_tables()
    Family.objects.bulk_create([Family(name=f"Minnow {n}", heads=2 + n % 3 * 2) for n in range(FAMILIES)])
    shelves = [Place(name=f"Bay {n}", code=codes.with_check(codes.stock_body("S", n))) for n in range(1, SHELVES + 1)]
    Place.objects.bulk_create(shelves)
    coded = {"custody.thing": {"code": codes.with_check(codes.case_body(2026, 1)), "words": "A docket"}}
    seed = Seed(apps, fitting=FITTING | coded)
    for model in (Item, Donor, DonorPart):
        seed.of(model)
    about = {"kind": "disk25", "family": Family.objects.get(name="Minnow 0"), "preamplifier": "PA-0", "head_map": "0 1"}
    about |= {"stage": "in work", "firmware": "F00", "plant": "N", "made": date(2021, 3, 1)}
    Item.objects.filter(pk=seed.of(Item).pk).update(**_blanks(Item) | about)
    return seed


def fill(seed: Any, parts: int, *, of_the_patients_family: int) -> None:
    """So many head stacks, each of a donor of its own; so many of them of the patient's family, and no two alike."""
    from labcases.stock.models import Donor, DonorPart, Family

    chance, families = random.Random(7), list(Family.objects.order_by("pk"))
    already, of_donor, of_part = Donor.objects.count(), _copy(seed, Donor), _copy(seed, DonorPart)
    for numbers in _batches(already, parts):
        things = _things(numbers)
        near = [n - already < of_the_patients_family for n in numbers]
        donors = [
            Donor(**of_donor | _drawn(chance, families, near=one) | {"thing_id": thing.pk})
            for one, thing in zip(near, things[0], strict=True)
        ]
        Donor.objects.bulk_create(donors)
        rows = [
            DonorPart(**of_part | {"part": "head stack", "donor": donor, "thing_id": thing.pk})
            for donor, thing in zip(donors, things[1], strict=True)
        ]
        DonorPart.objects.bulk_create(rows)


def _copy(seed: Any, model: Any) -> dict[str, Any]:
    """The plain columns of the first row."""
    first = seed.of(model)
    fields = [field for field in model._meta.concrete_fields if not field.primary_key and not field.generated]
    same = {field.attname: getattr(first, field.attname) for field in fields if field.name not in ("thing", "donor")}
    return same | _blanks(model)


def _blanks(model: Any) -> dict[str, str]:
    """Every text that may be left blank, left blank."""
    texts = ("CharField", "TextField")
    return {f.attname: "" for f in model._meta.concrete_fields if f.blank and f.get_internal_type() in texts}


def _drawn(chance: random.Random, families: list[Any], *, near: bool) -> dict[str, Any]:
    """A medium of the patient's family, or of another."""
    n = 0 if near else chance.randrange(1, len(families))
    return {
        "kind": "disk25",
        "maker": MAKERS[n % len(MAKERS)],
        "model": f"PL{100 + n}-{chance.randrange(60)}M",
        "board_number": f"100-{7000 + n}",
        "family_id": families[n].pk,
        "firmware": f"F{n % 7}{chance.randrange(3)}",
        "preamplifier": chance.choice([f"PA-{n % 4}", f"pa {n % 4}", ""]),
        "head_map": " ".join(str(head) for head in range(2 + n % 3 * 2)),
        "plant": chance.choice(["N", "S", ""]),
        "made": date(2020, 1, 1) + timedelta(days=chance.randrange(900)),
        "head_offsets": " ".join(f"{chance.uniform(0, 30):.2f}" for _ in range(2)),
        "sectors": chance.choice(SECTORS),
        "sector_bytes": 512,
    }


def _things(numbers: list[int]) -> tuple[list[Any], list[Any]]:
    from labcases.core import codes
    from labcases.custody.models import Thing
    from labcases.lab.models import Place

    shelves = list(Place.objects.order_by("pk"))
    donors = [codes.with_check(codes.stock_body("D", 10_000 + n)) for n in numbers]
    made = []
    for kind, listed in (("donor", donors), ("part", [codes.with_check(f"{code[:-1]}P1") for code in donors])):
        lying = ((code, shelves[n % len(shelves)]) for n, code in zip(numbers, listed, strict=True))
        things = [Thing(code=code, kind=kind, words="head stack", place=place) for code, place in lying]
        made.append(Thing.objects.bulk_create(things))
    return made[0], made[1]


def _batches(start: int, count: int) -> Iterator[list[int]]:
    for begin in range(start, start + count, BATCH):
        yield list(range(begin, min(begin + BATCH, start + count)))
