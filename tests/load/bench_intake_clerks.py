"""Eight clerks at eight counters take drives in at the same time, on SQLite, each in a process of their own.

    python tests/load/bench_intake_clerks.py            8 × 25 intakes against 200 in a row, three times
    python tests/load/bench_intake_clerks.py --smoke    4 × 5 against 20, once: too few to judge the ratio

Each pair runs one after the other on the same machine, on a fresh database each, and the median of the three ratios
counts. Ends with 1 when an intake fails (a locked database is such a failure), when together takes more than 1.3 times
as long as in a row, or when somebody waits two seconds or more for one intake.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import statistics
import subprocess
import sys
import tempfile
import time
import uuid
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
os.environ["DJANGO_SETTINGS_MODULE"] = "labcases.settings"
CLERKS = 8
LIMIT, LONGEST_WAIT = 1.3, 2.0


def prepare(folder: str) -> None:
    """An empty lab with terms and eight clerks."""
    environ = {**os.environ, "DATA_DIR": folder, "PYTHONPATH": str(ROOT)}
    words = [sys.executable, "-m", "tests.load.tables"]
    subprocess.run(words, env=environ, cwd=ROOT, check=True)
    _set_up(folder)
    from django.utils import timezone

    from labcases.lab.actions import publish_terms
    from labcases.lab.models import Actor, Staff
    from labcases.lab.roles import PEOPLE, Role

    for n in range(CLERKS):
        clerk = Staff.objects.create_user(login=f"clerk{n}", name=f"Clerk {n}", password="-" * 20, roles=PEOPLE)
    publish_terms(version="1", text="A failing disk can stop.", by=Actor(clerk, Role.MANAGER), happened=timezone.now())


def _set_up(folder: str) -> None:
    os.environ["DATA_DIR"] = folder
    import django

    django.setup()


def intake(clerk: Any, number: int) -> str:
    """What one press of the counter's button does: a returning owner, one disk, signed terms, all in one go."""
    from django.utils import timezone

    from labcases.cases.actions import log_drive
    from labcases.cases.intake import NewItem, Signed, Told, WantedLine
    from labcases.core.actions import once
    from labcases.people.models import Party

    def act() -> str:
        owner = Party.objects.create(name=f"Owner {number}", phone=f"+441184960{number % 1000:03d}")
        disk = NewItem(kind="disk25", maker="Pelorus", model="PL500-2M", serial=f"PW{number:08d}", marks=["nothing"])
        told = Told(stories=["wear"], story="Slow for a week.", wanted=[WantedLine("Photographs")])
        signed = Signed(signed_by=owner.name)
        case = log_drive(owner=owner, items=[disk], told=told, signed=signed, by=clerk, happened=timezone.now())
        return str(case.get_absolute_url())

    return once(key=uuid.uuid4(), person=clerk.staff, verb="take-in", content=str(number), act=act)


def work(folder: str, clerk: int, intakes: int, start: Any, waits: Any) -> None:
    """One clerk: a first intake unmeasured, since a new process pays for imports; then waits for the others, and goes.

    Puts the seconds of each intake, or what went wrong.
    """
    _set_up(folder)
    from labcases.lab.models import Actor, Staff
    from labcases.lab.roles import Role

    person = Actor(Staff.objects.get(login=f"clerk{clerk}"), Role.COUNTER)
    intake(person, clerk * 1_000 + 999)
    start.wait()
    for n in range(intakes):
        began = time.perf_counter()
        try:
            intake(person, clerk * 1_000 + n)
            waits.put(time.perf_counter() - began)
        except Exception as problem:  # noqa: BLE001 counted and shown by the parent
            waits.put(f"{type(problem).__name__}: {problem}")


def run(clerks: int, each: int) -> tuple[float, list[float], list[str]]:
    """Seconds from the first press to the last answer, every wait, and every failure."""
    spawn = multiprocessing.get_context("spawn")
    with tempfile.TemporaryDirectory(prefix="labcases-clerks-") as folder:
        maker = spawn.Process(target=prepare, args=(folder,))
        maker.start()
        maker.join()
        start, waits = spawn.Barrier(clerks + 1), spawn.Queue()
        people = [spawn.Process(target=work, args=(folder, n, each, start, waits)) for n in range(clerks)]
        for person in people:
            person.start()
        start.wait(timeout=60)
        began = time.perf_counter()
        said = [waits.get(timeout=120) for _ in range(clerks * each)]
        took = time.perf_counter() - began
        for person in people:
            person.join()
    return took, [one for one in said if isinstance(one, float)], [one for one in said if isinstance(one, str)]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--smoke", action="store_true")
    smoke = parser.parse_args().smoke
    clerks, each, rounds = (4, 5, 1) if smoke else (CLERKS, 25, 3)
    pairs = [(run(1, clerks * each), run(clerks, each)) for _ in range(rounds)]
    for row, crowd in pairs:
        print(f"{clerks} clerks × {each} intakes: {crowd[0]:.2f} s, in a row {row[0]:.2f} s")  # noqa: T201
    ratio = statistics.median(crowd[0] / row[0] for row, crowd in pairs)
    worst = max(wait for _, crowd in pairs for wait in crowd[1])
    failed = [problem for pair in pairs for way in pair for problem in way[2]]
    print(f"ratio {ratio:.2f} (limit {LIMIT}{', not judged' if smoke else ''})")  # noqa: T201
    print(f"worst wait {worst:.2f} s (limit {LONGEST_WAIT}); failures: {failed or 'none'}")  # noqa: T201
    return 0 if (smoke or ratio <= LIMIT) and worst < LONGEST_WAIT and not failed else 1


if __name__ == "__main__":
    sys.exit(main())
