"""A table of donors taken in, beside Django's own ``bulk_create`` of the same rows; memory; and who has to wait.

    python tests/load/bench_import.py            100,000 rows
    python tests/load/bench_import.py --smoke    4,000 rows, judged the same

The import is the whole of it: reading the file, judging every row, writing things, donors and parts in chunks, showing
them, and the first event of each in the ledger. ``bulk_create`` only writes the same things, donors and parts; it goes
on by turns with the import, so that whatever else the machine does falls on both. Memory is what the process has of its
own, the most at the end of any step, and in the second run at any moment: pages of the database file that are mapped
belong to nobody. In that second run, which is not timed, a clerk in a process of his own moves a thing again and again,
and the longest he waited is what counts. Ends with 1 when the import takes more than MOST times as long, when its
memory grows with the rows, or when somebody waited longer than WAIT.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import sys
import tempfile
import threading
import time
from collections import deque
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
os.environ["DJANGO_SETTINGS_MODULE"] = "labcases.settings"
MOST, WAIT, GROWTH_MB, AT_ONCE = 4.0, 1.0, 40, 500
ABOUT = 3.0  # how often the two take turns: about when the import has had so many times as long
HEAD = "Kind,Maker,Model,Serial,Firmware,Sectors,Parts,Made,Board number,Cost,Shelf\n"


def prepare() -> Any:
    """An empty lab with a shelf, a family and somebody who keeps the stockroom."""
    import django

    django.setup()
    from tests.builders import Make
    from tests.load.tables import make_tables

    make_tables()
    make = Make()
    make.profile()
    make.place(name="North 3")
    make.family("Pelorus Minnow", aliases=[("", "PL500")])
    return make.everyone()


def table(file: Path, first: int, count: int) -> Path:
    with file.open("w") as out:
        out.write(HEAD)
        for n in range(first, first + count):
            label = f"2.5 disk,Pelorus,PL500-{n % 90}M,PW{n:08d},AA{n % 7}"
            out.write(f"{label},976773168,head stack,2024-03-09,B{n % 50},9.50,North 3\n")
    return file


def megabytes() -> float:
    """Memory of this process that is no file's."""
    status = Path("/proc/self/status").read_text()
    return float(next(line.split()[1] for line in status.splitlines() if line.startswith("RssAnon"))) / 1024


class Watched:
    """The most memory of its own that this process had while this was open, looked at a hundred times a second."""

    def __enter__(self) -> Watched:
        self.most, self.ended = megabytes(), threading.Event()
        self.thread = threading.Thread(target=self._look)
        self.thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.ended.set()
        self.thread.join()

    def _look(self) -> None:
        while not self.ended.wait(0.01):
            self.most = max(self.most, megabytes())


def steps(file: Path, by: Any) -> Iterator[float]:
    """Seconds of each step from the file to the rows on the shelf with their first events."""
    from django.utils import timezone

    from labcases.imports import actions

    began = time.perf_counter()
    made = actions.start(kind="donors", file=file, name=file.name, by=by, happened=timezone.now())
    actions.check(table=made, mapping=made.mapping, by=by)
    yield time.perf_counter() - began
    yield from _chunks(made)
    began = time.perf_counter()
    actions.take_in(table=made, skip_refused=False, by=by, happened=timezone.now())
    yield time.perf_counter() - began
    yield from _chunks(made)
    assert made.state == "shown", made.said


def _chunks(made: Any) -> Iterator[float]:
    from labcases.imports import actions

    while True:
        began = time.perf_counter()
        more = actions.step(made)
        yield time.perf_counter() - began
        if not more:
            return


def by_turns(file: Path, first: int, count: int, by: Any) -> tuple[float, float, float]:
    """Seconds of the import, seconds of ``bulk_create`` of as many rows, and the most memory it had of its own."""
    from django.utils import timezone

    from labcases.lab.models import Entry

    stamp, batches = Entry.stamp(by, timezone.now()), deque(range(first, first + count, AT_ONCE))
    ours = theirs = most = 0.0
    for took in steps(file, by):
        ours, most = ours + took, max(most, megabytes())
        if batches and ours > theirs * ABOUT:
            theirs += bulk_created(batches.popleft(), stamp)
    while batches:
        theirs += bulk_created(batches.popleft(), stamp)
    return ours, theirs, most


def bulk_created(start: int, stamp: dict[str, Any]) -> float:
    """Seconds for writing so many rows with nothing but ``bulk_create``."""
    began = time.perf_counter()
    created(range(start, start + AT_ONCE), stamp)
    return time.perf_counter() - began


def created(numbers: range, stamp: dict[str, Any]) -> None:
    from datetime import date

    from labcases.custody.models import Thing
    from labcases.lab.models import Place
    from labcases.stock.models import Donor, DonorPart, Family

    place, family = Place.objects.get(name="North 3"), Family.objects.get()
    label = "2.5″ disk, Pelorus PL500"
    things = Thing.objects.bulk_create(
        [Thing(code=f"D{n}A", kind="donor", words=label, serial_folded=f"PW{n:08d}", place=place) for n in numbers]
    )
    about: dict[str, Any] = {"kind": "disk25", "maker": "Pelorus", "firmware": "AA1", "sectors": 976_773_168}
    about |= {"made": date(2024, 3, 9), "board_number": "B1", "cost": 950, "currency": "EUR", "family": family, **stamp}
    rows = [(n, t) for n, t in zip(numbers, things, strict=True)]
    donors = Donor.objects.bulk_create(
        [Donor(thing=t, model=f"PL500-{n % 90}M", serial=f"PW{n:08d}", **about) for n, t in rows]
    )
    parts = Thing.objects.bulk_create(
        [Thing(code=f"D{n}P1A", kind="part", words=f"head stack of {label}", place=place) for n in numbers]
    )
    DonorPart.objects.bulk_create(
        [DonorPart(donor=d, thing=t, part="head stack", **stamp) for d, t in zip(donors, parts, strict=True)]
    )


def clerk(folder: str, stop: Any, longest: Any, saves: Any) -> None:
    """Move a thing to and fro as a colleague would, as long as the import runs."""
    os.environ["DATA_DIR"] = folder
    import django

    django.setup()
    from django.utils import timezone

    from labcases.custody.actions import move
    from labcases.custody.models import Thing
    from labcases.lab.models import Actor, Place, Staff
    from labcases.lab.roles import Role

    by = Actor(Staff.objects.first(), Role.MANAGER)
    thing, place = Thing.objects.filter(kind="donor")[0], Place.objects.first()
    assert place
    for _ in moments(stop):
        began = time.perf_counter()
        move(thing=thing, to=place, by=by, happened=timezone.now())
        longest.value = max(longest.value, time.perf_counter() - began)
        saves.value += 1


def moments(stop: Any) -> Iterator[None]:
    while not stop.wait(0.05):
        yield


def waited(folder: str, file: Path, by: Any) -> tuple[float, int]:
    """The longest that a clerk waited for one save while the file is taken in, and how often he saved."""
    from django.db import connections

    connections.close_all()
    context = multiprocessing.get_context("spawn")
    stop, longest, saves = context.Event(), context.Value("d", 0.0), context.Value("i", 0)
    other = context.Process(target=clerk, args=(folder, stop, longest, saves))
    other.start()
    while not saves.value and other.is_alive():
        time.sleep(0.05)
    longest.value = 0.0  # his first save read the program in
    for _ in steps(file, by):
        pass
    stop.set()
    other.join()
    return longest.value, saves.value


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--smoke", action="store_true")
    smoke = parser.parse_args().smoke
    count, beside = (4_000, 2_000) if smoke else (100_000, 20_000)
    with tempfile.TemporaryDirectory(prefix="labcases-import-") as folder:
        os.environ["DATA_DIR"] = folder
        by, files = prepare(), Path(folder)
        by_turns(table(files / "first.csv", 1, 2_000), 40_000_000, 2_000, by)  # what is loaded and cached once
        before = megabytes()
        ours, theirs, most = by_turns(table(files / "donors.csv", 10_000_000, count), 20_000_000, count, by)
        again = table(files / "again.csv", 30_000_000, beside)
        with Watched() as memory:
            longest, saves = waited(folder, again, by)
        grown = max(most, memory.most) - before
        ratio = ours / theirs
    print(  # noqa: T201
        f"{count:,} rows: {ours:.1f} s, bulk_create {theirs:.1f} s, ratio {ratio:.1f} (limit {MOST:.0f}); "
        f"memory grew by {grown:.0f} MB (limit {GROWTH_MB}); {saves} saves beside it, "
        f"the longest took {longest * 1000:.0f} ms (limit {WAIT * 1000:.0f})"
    )
    return 0 if ratio <= MOST and grown <= GROWTH_MB and longest <= WAIT and saves > 3 else 1


if __name__ == "__main__":
    sys.exit(main())
