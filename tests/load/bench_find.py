"""The stockroom's find page among 200,000 parts, beside fetching what it counts of the parts that it finds.

    python tests/load/bench_find.py            200,000 parts
    python tests/load/bench_find.py --smoke    10,000 parts, judged the same

The page counts all that fits by part, family, capacity and shelf, and lists the first of them in order. What that takes
more than the same page of a stockroom with a single part is set against fetching the counted columns of the same
parts once. Time is this process's own on the processor, so that other work of the machine counts on neither side. Ends
with 1 when a page takes more than MOST times as long, asks the database more often than among FEW parts, or finds
nothing.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
os.environ["DJANGO_SETTINGS_MODULE"] = "labcases.settings"
os.environ["SITE_URL"] = "http://testserver"  # as Django's own client calls itself
MOST, FEW = 3.0, 2_500
# Everything; a maker; a piece of a model number; a code; a shelf; a kind and a size; a word with a facet chosen.
ASKED = ("", "pelorus", "pl14", "d10123", "bay 7", "free heads 2 tb", "orrery heads", "skerry&shelf=3")


def prepare() -> tuple[Any, Any]:
    """A stockroom with one part, and somebody who may look."""
    from tests.load import large_stock

    seed = large_stock.prepare()
    from django.conf import settings
    from django.core.management import call_command
    from django.test import Client

    from labcases.lab.models import Staff
    from labcases.lab.roles import PEOPLE

    settings.STORAGES["staticfiles"]["BACKEND"] = "django.contrib.staticfiles.storage.StaticFilesStorage"
    settings.STATIC_ROOT.mkdir(parents=True)
    call_command("collectstatic", interactive=False, verbosity=0)
    client = Client(headers={"host": "127.0.0.1"})
    client.force_login(Staff.objects.create_user(login="all", name="All", password="-" * 20, roles=PEOPLE))
    return client, seed


def page(client: Any, words: str) -> str:
    from django.urls import reverse

    answer = client.get(f"{reverse('stock:find')}?q={words.replace(' ', '+')}")
    assert answer.status_code == 200, answer
    return answer.content.decode()


def queries(client: Any, words: str) -> int:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as ran:
        page(client, words)
    return len(ran)


def fetched(words: str) -> int:
    """The columns of the facets, of every part that fits."""
    from urllib.parse import parse_qsl

    from labcases.stock.finding.asked import understand
    from labcases.stock.finding.queries import PARTS, Names, narrowed, parts_for

    typed, *_ = words.partition("&")
    rows = narrowed(parts_for(understand(typed), Names.read()), PARTS, dict(parse_qsl(words)))
    columns = ("thing__code", *PARTS.columns.values(), "donor__sectors", "donor__sector_bytes")
    return len(list(rows.order_by().values_list(*columns)))


def seconds(work: Callable[[], object]) -> float:
    """Seconds on the processor."""
    start = time.process_time()
    work()
    return time.process_time() - start


def judged(client: Any, words: str, alone: float, few: int, turns: int) -> bool:
    """Print one line; whether the page keeps its limits."""
    pairs = [(seconds(lambda: fetched(words)), seconds(lambda: page(client, words))) for _ in range(turns)]
    ratio = statistics.median((whole - alone) / fetching for fetching, whole in pairs)
    fetching, whole = (1000 * statistics.median(each) for each in zip(*pairs, strict=True))
    found, many = fetched(words), queries(client, words)
    good = ratio <= MOST and found > 0 and few == many
    print(  # noqa: T201
        f"“{words}” finds {found:,}: page {whole:.0f} ms, fetching {fetching:.0f} ms, ratio {ratio:.1f} "
        f"(limit {MOST:.0f}); {few} → {many} queries{'' if good else '  WRONG'}"
    )
    return good


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--smoke", action="store_true")
    smoke = parser.parse_args().smoke
    with tempfile.TemporaryDirectory(prefix="labcases-find-") as folder:
        os.environ["DATA_DIR"] = folder
        client, seed = prepare()
        from tests.load import large_stock

        large_stock.fill(seed, 1, of_the_patients_family=1)
        page(client, "")  # what is loaded and cached once
        alone = statistics.median(seconds(lambda: page(client, "")) for _ in range(5))
        large_stock.fill(seed, FEW, of_the_patients_family=FEW // 10)
        few = {words: queries(client, words) for words in ASKED}
        large_stock.fill(seed, (10_000 if smoke else 200_000) - FEW, of_the_patients_family=2_000)
        fine = [judged(client, words, alone, few[words], 5) for words in ASKED]
    return 0 if all(fine) else 1


if __name__ == "__main__":
    sys.exit(main())
