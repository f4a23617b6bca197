"""How long an intake form with two photographs takes: kept fonts and styles against reading them for every paper.

    python tests/load/bench_papers.py            five rounds of each, judged: warm at most 0.3 of naive
    python tests/load/bench_papers.py --smoke    one round of each, judged the same, about five seconds

Both ways set the same page in the same run; the two medians and their ratio are printed. Ends with 1 when the
ratio is above the limit, or when four threads at once do not give the bytes of one.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labcases.settings")
LIMIT = 0.3


def page() -> str:
    """The sample intake form with two photographs, as HTML."""
    from django.conf import settings

    settings.TEMPLATES[0]["DIRS"] = [*settings.TEMPLATES[0]["DIRS"], ROOT / "tests" / "paper" / "templates"]
    from labcases.core import vault
    from labcases.paper import papers
    from tests.paper.sample import Sample, photograph

    photos = [{"digest": vault.put(photograph(n)), "alt": f"Side {n}", "caption": f"Side {n}"} for n in (1, 2)]
    call = Sample({"photos": photos}).call
    return papers.html(call.pop("template"), call.pop("context"), **call)


def median_ms(once: Callable[[], object], rounds: int) -> float:
    times = []
    for _ in range(rounds):
        start = time.process_time()
        once()
        times.append((time.process_time() - start) * 1000)
    return statistics.median(times)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--smoke", action="store_true")
    rounds = 1 if parser.parse_args().smoke else 5
    import django

    django.setup()
    from labcases.core import vault
    from labcases.paper import footer, render
    from tests.paper.sample import ISSUED

    with tempfile.TemporaryDirectory() as folder:
        vault.open_at(Path(folder))
        footer.provide(lambda: "3f9a11c2" * 8)  # no ledger stands behind this one
        html = page()

        def warm() -> bytes:
            return render.to_pdf(html, issued=ISSUED)

        def naive() -> bytes:
            render._machines.clear()  # fonts and styles are read again
            return warm()

        expected = hashlib.sha256(warm()).hexdigest()  # the first paper of a process pays for imports too
        slow, fast = median_ms(naive, rounds), median_ms(warm, max(rounds, 3))
        with ThreadPoolExecutor(4) as pool:
            made = {hashlib.sha256(pdf).hexdigest() for pdf in pool.map(lambda _: warm(), range(8 * rounds))}
    ratio, clean = fast / slow, made == {expected}
    print(f"intake form, 2 photographs: warm {fast:.0f} ms, naive {slow:.0f} ms, ratio {ratio:.2f} (limit {LIMIT})")  # noqa: T201
    print(f"four threads at once: {'every file the same' if clean else 'files differ'}")  # noqa: T201
    return 0 if ratio <= LIMIT and clean else 1


if __name__ == "__main__":
    sys.exit(main())
