"""How long a 24-megapixel photo takes, how much memory, and whether twenty hold up a colleague's page.

    python tests/load/bench_photos.py            rounds of each, judged
    python tests/load/bench_photos.py --smoke    one round of each, judged the same, some seconds

Judged side by side in the same run: taking a photo in takes at most 2.5 times what Pillow needs to decode it and make
one thumbnail of it; the process grows by no more than Pillow needs to hold the decoded photo (four bytes a pixel);
another clerk's page, asked from the lab's own web server while twenty photos come in, takes at most twice its own
time. Ends with 1 when one is not so.
"""

from __future__ import annotations

import argparse
import http.client
import io
import os
import re
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import uuid
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labcases.settings")
WIDTH, HEIGHT = 6000, 4000
MOST_TIME, MOST_MEMORY, MOST_SLOWER = 2.5, WIDTH * HEIGHT * 4, 2.0
PHOTOS, SENDERS = 20, 2  # the page's script sends two at a time


def photo(seed: int = 1) -> bytes:
    """A JPEG of 24 megapixels with as much detail as a camera's (some 8 MB), drawn by chance."""
    import numpy as np
    from PIL import Image

    chance = np.random.default_rng(seed)
    small = Image.fromarray(chance.integers(0, 256, (HEIGHT // 8, WIDTH // 8, 3), dtype=np.uint8))
    out = io.BytesIO()
    small.resize((WIDTH, HEIGHT), Image.Resampling.BICUBIC).save(out, "JPEG", quality=90)
    return out.getvalue()


def median(once: Callable[[], object], rounds: int) -> float:
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        once()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


# --- time and memory of one -------------------------------------------------------------------------------------------


def one_photo(rounds: int) -> bool:
    from PIL import Image

    from labcases.custody.photos.pictures import take_in

    data = photo()

    def plainly() -> None:
        picture = Image.open(io.BytesIO(data))
        picture.load()
        picture.thumbnail((320, 320))

    plainly(), take_in(data)
    plain, ours = median(plainly, rounds), median(lambda: take_in(data), rounds)
    print(f"24 megapixels: taken in {ours * 1000:.0f} ms, decoded and thumbnailed once {plain * 1000:.0f} ms, "  # noqa: T201
          f"ratio {ours / plain:.2f} (limit {MOST_TIME})")  # fmt: skip
    return ours / plain <= MOST_TIME


# VmHWM and not ru_maxrss, which a program inherits from whoever started it.
GROWTH = """
import sys
from labcases.custody.photos.pictures import take_in
from tests.load.bench_photos import peak
take_in(bytes.fromhex(sys.argv[1]))
before, data = peak(), sys.stdin.buffer.read()
for _ in range(3): take_in(data)
print(peak() - before)
"""


def peak() -> int:
    """The most memory this process ever had, in bytes (Linux)."""
    said = Path("/proc/self/status").read_text(encoding="ascii")
    return int(re.search(r"VmHWM:\s+(\d+) kB", said)[1]) * 1024  # type: ignore[index]


def memory() -> bool:
    """In a process of its own, since a peak never goes down again."""
    from tests.photographs import photograph

    if not Path("/proc/self/status").exists():
        print("memory: not measured, since this system has no /proc")  # noqa: T201
        return True
    words = [sys.executable, "-c", GROWTH, photograph().hex()]
    ran = subprocess.run(words, input=photo(), capture_output=True, check=True, cwd=ROOT)
    grown = int(ran.stdout)
    print(f"memory: {grown / 1e6:.0f} MB at most (limit {MOST_MEMORY / 1e6:.0f} MB, the photo held decoded)")  # noqa: T201
    return grown <= MOST_MEMORY


# --- twenty of them, and a colleague ----------------------------------------------------------------------------------


class Clerk:
    """A logged-in browser of the standard library."""

    def __init__(self, port: int, cookie: str) -> None:
        self.line, self.cookie = http.client.HTTPConnection("127.0.0.1", port, timeout=60), cookie
        self.token = re.search(r'X-CSRFToken": "(\w+)"', self.ask("GET", "/custody/things/")[1])[1]  # type: ignore[index]

    def ask(self, verb: str, where: str, body: bytes | None = None, **headers: str) -> tuple[int, str]:
        self.line.request(verb, where, body, {"Cookie": self.cookie, **headers})
        answer = self.line.getresponse()
        if fresh := answer.getheader("Set-Cookie"):
            self.cookie += "; " + fresh.partition(";")[0]
        return answer.status, answer.read().decode()

    def send(self, where: str, data: bytes) -> int:
        """One photo as the page's script sends it, again when the line is full."""
        edge = uuid.uuid4().hex
        head = f'--{edge}\r\nContent-Disposition: form-data; name="photos"; filename="a.jpg"\r\n\r\n'
        body = head.encode() + data + f"\r\n--{edge}--\r\n".encode()
        kind = f"multipart/form-data; boundary={edge}"
        headers = {"Content-Type": kind, "HX-Request": "true", "X-CSRFToken": self.token}
        while (status := self.ask("POST", where, body, **headers)[0]) == 503:
            time.sleep(0.5)
        return status


def lab(folder: str) -> tuple[str, str]:
    """A lab with one clerk and one thing: the cookie of a session, and where photos of the thing go."""
    import django

    django.setup()
    from django.conf import settings
    from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
    from django.contrib.sessions.backends.db import SessionStore
    from django.core.management import call_command

    from tests.load.tables import make_tables

    make_tables()
    call_command("collectstatic", verbosity=0, interactive=False)
    from tests.builders import Make

    make = Make()
    make.profile()
    clerk, item = make.staff(), make.case(items=40).items.first()
    session = SessionStore()
    session[SESSION_KEY], session[HASH_SESSION_KEY] = str(clerk.pk), clerk.get_session_auth_hash()
    session[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[0]
    session.save()
    return f"{settings.SESSION_COOKIE_NAME}={session.session_key}", f"/custody/things/{item}/photos/"


def colleague(photos: int, rounds: int) -> bool:
    """Time a page alone, then while photos come in."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ["DATA_DIR"] = folder
        cookie, where = lab(folder)
        from labcases.ops.servers import server_words

        port = _free_port()
        server = subprocess.Popen(server_words("127.0.0.1", port), cwd=ROOT, env={**os.environ, "DATA_DIR": folder})
        try:
            _wait_for(port)
            return _judge(port, cookie, where, photos, rounds)
        finally:
            server.terminate()
            server.wait(20)


def _judge(port: int, cookie: str, where: str, photos: int, rounds: int) -> bool:
    reader = Clerk(port, cookie)

    def page() -> None:
        assert reader.ask("GET", "/custody/things/")[0] == 200

    median(page, 10)
    alone = median(page, rounds)
    waiting, statuses = [photo(seed) for seed in range(photos)], []

    def sender() -> None:
        clerk = Clerk(port, cookie)
        while waiting:
            statuses.append(clerk.send(where, waiting.pop()))

    senders = [threading.Thread(target=sender) for _ in range(SENDERS)]
    start = time.perf_counter()
    for one in senders:
        one.start()
    times = []
    while any(one.is_alive() for one in senders):
        times.append(median(page, 1))
    took, beside = time.perf_counter() - start, statistics.median(times)
    print(f"{photos} photos in {took:.1f} s; a colleague's page alone {alone * 1000:.1f} ms, meanwhile "  # noqa: T201
          f"{beside * 1000:.1f} ms of {len(times)}, ratio {beside / alone:.2f} (limit {MOST_SLOWER})")  # fmt: skip
    return beside / alone <= MOST_SLOWER and statuses == [200] * photos


def _free_port() -> int:
    import socket

    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _wait_for(port: int) -> None:
    for _ in range(200):
        try:
            line = http.client.HTTPConnection("127.0.0.1", port, timeout=2)
            line.request("GET", "/log-in/")
            line.getresponse().read()
            return
        except OSError:
            time.sleep(0.1)
    raise SystemExit("The web server did not start.")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--smoke", action="store_true")
    smoke = parser.parse_args().smoke
    whole = [one_photo(3 if smoke else 9), memory(), colleague(4 if smoke else PHOTOS, 20 if smoke else 60)]
    return 0 if all(whole) else 1


if __name__ == "__main__":
    sys.exit(main())
