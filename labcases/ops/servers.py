"""Keep the web server and the worker running until told to stop; the standard library alone.

The server's end is the end of everything; a worker that ends is started again, a little later each time.
"""

from __future__ import annotations

import http.client
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from types import FrameType

ROOT = Path(__file__).resolve().parent.parent.parent
STEADY_SECONDS = 60.0
LONGEST_PAUSE = 30.0
GRACE_SECONDS = 15.0
WEB_PROCESSES = 2


def threads(cores: int) -> int:
    """Requests in work at once in a web process. Each may hold a database connection, so there is an upper end.

    >>> threads(1), threads(2), threads(64)
    (3, 5, 8)
    """
    return min(8, 2 * cores + 1)


def server_words(host: str, port: int) -> list[str]:
    """The command line of the web server."""
    wsgi = ["--interface", "wsgi", "--workers", str(WEB_PROCESSES), "--respawn-failed-workers", "--no-ws"]
    wsgi += ["--blocking-threads", str(threads(os.cpu_count() or 1))]
    where = ["--host", host, "--port", str(port), "--log-level", "warning"]
    return [sys.executable, "-m", "granian", *wsgi, *where, "labcases.wsgi:application"]


def worker_words() -> list[str]:
    """The command line of the worker."""
    return [sys.executable, str(ROOT / "manage.py"), "worker"]


def pause_before_restart(lived: float, pause: float) -> float:
    """Seconds to wait before the next start: one after a steady life, else twice the last pause.

    >>> pause_before_restart(lived=3.0, pause=4.0), pause_before_restart(lived=500.0, pause=16.0)
    (8.0, 1.0)
    """
    return 1.0 if lived >= STEADY_SECONDS else min(LONGEST_PAUSE, pause * 2)


def why_not(host: str, port: int) -> str:
    """A sentence when the address cannot be listened on, else ''."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except PermissionError:
            return f"Port {port} is for the administrator only. Choose one from 1024 up with --port."
        except OSError as problem:
            if port and _answers(host, port):
                return f"Port {port} on {host} is taken by another program. Stop it, or choose another with --port."
            return f"Cannot listen on {host}, port {port}: {problem.strerror or problem}."
    return ""


def _answers(host: str, port: int) -> bool:
    try:
        with socket.create_connection((_knock_on(host), port), timeout=1):
            return True
    except OSError:
        return False


def _knock_on(host: str) -> str:
    """Where a server that listens everywhere can be reached from this machine."""
    return {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(host, host)  # noqa: S104


def gives_pages(host: str, port: int) -> bool:
    """True once the server answers a request, whatever it answers."""
    call = http.client.HTTPConnection(_knock_on(host), port, timeout=20)
    try:
        call.request("GET", "/", headers={"Host": f"127.0.0.1:{port}"})
        call.getresponse().read()
    except (OSError, http.client.HTTPException):
        return False
    finally:
        call.close()
    return True


def _die_with_parent() -> None:
    """In the child, before it starts: when the parent is killed hard, the system asks the child to stop too."""
    if sys.platform.startswith("linux"):
        import ctypes

        ctypes.CDLL(None).prctl(1, signal.SIGTERM)  # PR_SET_PDEATHSIG


class Child:
    """A process in a group of its own, so that Ctrl-C reaches us alone and we decide the order of stopping."""

    def __init__(self, name: str, words: Sequence[str], environ: Mapping[str, str]) -> None:
        self.name, self.words, self.environ = name, list(words), dict(environ)
        self.pause = 0.5
        self.start()

    def start(self) -> None:
        self.began = time.monotonic()
        self.rests_until: float | None = None
        posix = os.name == "posix"
        self.process = subprocess.Popen(  # noqa: S603
            self.words,
            cwd=ROOT,
            env=self.environ,
            stdin=subprocess.DEVNULL,
            start_new_session=posix,
            preexec_fn=_die_with_parent if posix else None,
        )

    def ended(self) -> int | None:
        """The exit code, or None while it runs."""
        return self.process.poll()

    def rest(self, now: float) -> None:
        """It ended: set when it may start again."""
        self.pause = pause_before_restart(now - self.began, self.pause)
        self.rests_until = now + self.pause

    def ask_to_stop(self) -> None:
        if self.ended() is None:
            self.process.terminate()

    def make_sure(self, deadline: float) -> None:
        """Wait until the deadline (monotonic seconds), then kill what is left of the group."""
        try:
            self.process.wait(max(0.1, deadline - time.monotonic()))
        except subprocess.TimeoutExpired:
            if os.name == "posix":
                os.killpg(self.process.pid, signal.SIGKILL)
            else:
                self.process.kill()
            self.process.wait()


class Supervisor:
    """One server, one worker."""

    def __init__(self, say: Callable[[str], None]) -> None:
        self.say = say
        self.stop = threading.Event()

    def _told(self, number: int, frame: FrameType | None) -> None:
        self.stop.set()

    def run(self, environ: Mapping[str, str], host: str, port: int, ready: Callable[[], None]) -> int:
        """Run until SIGTERM, SIGINT or the server's end; ``ready`` is called once pages come. Returns the exit code."""
        for number in (signal.SIGTERM, signal.SIGINT, *([signal.SIGHUP] if hasattr(signal, "SIGHUP") else [])):
            signal.signal(number, self._told)
        server = Child("server", server_words(host, port), environ)
        children = [server]
        try:
            if self._await_pages(server, host, port):
                worker = Child("worker", worker_words(), environ)
                children.append(worker)
                ready()
                self._watch(server, worker)
        finally:
            code = server.ended()
            for child in children:
                child.ask_to_stop()
            deadline = time.monotonic() + GRACE_SECONDS
            for child in children:
                child.make_sure(deadline)
        if code is not None and not self.stop.is_set():
            self.say(f"The server stopped by itself (exit code {code}); what it said stands above.")
            return code or 1
        return 0

    def _await_pages(self, server: Child, host: str, port: int) -> bool:
        while server.ended() is None and not self.stop.is_set():
            if gives_pages(host, port):
                return True
            self.stop.wait(0.05)
        return False

    def _watch(self, server: Child, worker: Child) -> None:
        while server.ended() is None and not self.stop.wait(0.2):
            code = worker.ended()
            if code is None:
                continue
            if worker.rests_until is None:
                worker.rest(time.monotonic())
                self.say(f"The worker stopped (exit code {code}); starting it again in {worker.pause:g} s.")
            elif time.monotonic() >= worker.rests_until:
                worker.start()
