"""How long the second ``manage.py demo`` takes until its first page is there.

    python tests/load/bench_second_start.py            three starts, the median judged: under three seconds
    python tests/load/bench_second_start.py --smoke    one start, judged the same

The first start makes the invented lab, in a folder of its own that is removed afterwards. Each later one is timed from
the command to the whole log-in page, beside what this Python takes to import Django, so that a slow machine shows.
Ends with 1 above the limit.
"""

from __future__ import annotations

import argparse
import http.client
import os
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
LIMIT = 3.0


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def has_page(port: int) -> bool:
    call = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
    try:
        call.request("GET", "/log-in/")
        answer = call.getresponse()
        return answer.status == 200 and b"</html>" in answer.read()
    except OSError:
        return False
    finally:
        call.close()


def start(environ: dict[str, str], *more: str, wait: float) -> float:
    """Seconds from the command to its first page; everything it started is gone afterwards."""
    port = free_port()
    words = [sys.executable, "manage.py", "demo", "--port", str(port), *more]
    began = time.perf_counter()
    process = subprocess.Popen(words, cwd=ROOT, env=environ, stdout=subprocess.DEVNULL)
    try:
        while not has_page(port):
            if process.poll() is not None or time.perf_counter() - began > wait:
                raise SystemExit(f"No page after {time.perf_counter() - began:.0f} s.")
            time.sleep(0.02)
        return time.perf_counter() - began
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(timeout=30)


def import_time(environ: dict[str, str]) -> float:
    began = time.perf_counter()
    subprocess.run([sys.executable, "-c", "import django.db.models, django.http"], env=environ, cwd=ROOT, check=True)
    return time.perf_counter() - began


def main() -> int:
    from labcases.ops.suite import clean_environment

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--smoke", action="store_true")
    rounds = 1 if parser.parse_args().smoke else 3
    with tempfile.TemporaryDirectory(prefix="labcases-start-") as folder:
        environ = {**clean_environment(os.environ), "DATA_DIR": folder, "BOOTSTRAP": "no"}
        first = start(environ, wait=300)
        plain = statistics.median(import_time(environ) for _ in range(rounds))
        second = statistics.median(start(environ, wait=60) for _ in range(rounds))
    print(f"first start {first:.1f} s; second start to first page {second:.2f} s (limit {LIMIT})")  # noqa: T201
    print(f"ratio to the first {second / first:.2f}, to importing Django alone ({plain:.2f} s) {second / plain:.1f}")  # noqa: T201
    return 0 if second < LIMIT else 1


if __name__ == "__main__":
    sys.exit(main())
