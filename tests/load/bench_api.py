"""Receiving spans over HTTP, against parsing the same bytes from a file.

    python tests/load/bench_api.py            1,000,000 spans in four parts, three times
    python tests/load/bench_api.py --smoke    50,000 spans, judged loosely: what an upload costs besides stays the same

A server of its own (threads, SQLite, a folder that is removed) takes the parts over a socket, packed with gzip, puts
them together, parses them, and keeps them as evidence and as columns; the coverage is the worker's. The yardstick reads
the same CSV from a file and parses it. Ends with 1 above the limit.
"""

from __future__ import annotations

import argparse
import gzip
import http.client
import json
import os
import random
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any
from uuid import uuid4
from wsgiref.simple_server import WSGIRequestHandler, WSGIServer, make_server

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labcases.settings")
PARTS, SECTORS = 4, 39_063_650_304  # of a disk of 20 TB


class Quiet(WSGIRequestHandler):
    def log_message(self, *_: Any) -> None:
        """Nothing on the screen."""


def table(count: int) -> bytes:
    """Spans of a failing disk, one behind the other, with gaps."""
    dice, at, lines = random.Random(3), 0, ["first,sectors,state\n"]
    for _ in range(count):
        length = dice.choice((8, 64, 256, 2048, 16_384))
        state = dice.choices(("read", "skipped", "unreadable"), (90, 7, 3))[0]
        lines.append(f"{at},{length},{state}\n")
        at += length + dice.choice((0, 0, 0, 8))
    assert at < SECTORS
    return "".join(lines).encode()


def parsing(file: Path) -> float:
    from labcases.api import spanfile

    began = time.perf_counter()
    said = spanfile.read(file.read_bytes(), spanfile.CSV, total=SECTORS)
    assert said.firsts.size
    return time.perf_counter() - began


def receiving(port: int, token: str, item: str, parts: list[bytes], count: int) -> float:
    """Seconds from the first byte sent to the answer that all of it is kept."""
    call = http.client.HTTPConnection("127.0.0.1", port, timeout=300)
    head, where = {"Authorization": f"Bearer {token}"}, f"/api/v1/items/{item}/coverage/{uuid4()}"
    packed = {**head, "Content-Type": "text/csv", "Content-Encoding": "gzip"}

    def ask(method: str, path: str, body: bytes, headers: dict[str, str]) -> dict[str, Any]:
        call.request(method, path, body, headers)
        answer = call.getresponse()
        said: dict[str, Any] = json.loads(answer.read())
        assert answer.status == 201, said
        return said

    began = time.perf_counter()
    for number, part in enumerate(parts, 1):
        ask("PUT", f"{where}/parts/{number}", part, packed)
    sent = json.dumps({"parts": len(parts)}).encode()
    said = ask("POST", where, sent, {**head, "Content-Type": "application/json"})
    assert said["spans"] == count
    return time.perf_counter() - began


def begin(patients: int) -> tuple[list[str], str, WSGIServer]:
    """A lab with large patients, a token, and a server that answers."""
    from django.conf import settings
    from django.core.wsgi import get_wsgi_application

    from tests.load.tables import make_tables

    settings.STATIC_ROOT.mkdir(parents=True, exist_ok=True)
    application = get_wsgi_application()
    make_tables()
    from labcases.api.actions import admit
    from tests.builders import NOON, Make

    make = Make()
    make.profile()
    items = [str(make.item(sectors=SECTORS)) for _ in range(patients)]
    token = admit(name="Bench 2", scopes=["coverage"], by=make.everyone(), happened=NOON)[1]
    server = make_server("127.0.0.1", 0, application, handler_class=Quiet)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    return items, token, server


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--smoke", action="store_true")
    count, rounds, limit = (50_000, 1, 40.0) if parser.parse_args().smoke else (1_000_000, 3, 4.0)
    with tempfile.TemporaryDirectory(prefix="labcases-api-") as folder:
        os.environ["DATA_DIR"] = folder
        (first, *items), token, server = begin(rounds + 1)
        data, file = table(count), Path(folder) / "spans.csv"
        file.write_bytes(data)
        step = len(data) // PARTS + 1
        parts = [gzip.compress(data[at : at + step], 1) for at in range(0, len(data), step)]
        port = server.server_port
        parsing(file)
        receiving(port, token, first, [gzip.compress(b"first,sectors\n0,8\n")], 1)  # whoever calls first waits longer
        times = [(receiving(port, token, item, parts, count), parsing(file)) for item in items]
        server.shutdown()
    took, alone = (statistics.median(column) for column in zip(*times, strict=True))
    said = f"{count:,} spans: received in {took:.2f} s, parsed from a file in {alone:.2f} s"
    print(f"{said}, ratio {took / alone:.1f} (limit {limit})")  # noqa: T201
    return 0 if took <= limit * alone else 1


if __name__ == "__main__":
    sys.exit(main())
