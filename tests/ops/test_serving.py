"""A real lab, really started: server and worker come, the worker comes back, all of it goes."""

from __future__ import annotations

import http.client
import os
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from labcases.ops import first_manager, servers, suite

pytestmark = pytest.mark.serial


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _status(port: int, path: str) -> int:
    call = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    try:
        call.request("GET", path)
        return call.getresponse().status
    finally:
        call.close()


def _children(pid: int) -> list[int]:
    listed = subprocess.run(["ps", "-o", "pid=,args=", "--ppid", str(pid)], capture_output=True, text=True, check=False)
    return [int(line.split()[0]) for line in listed.stdout.splitlines() if "worker" in line and "granian" not in line]


@pytest.fixture
def lab(tmp_path: Path) -> Iterator[tuple[subprocess.Popen[str], int]]:
    """``serve`` on an empty data folder, once it has said where it is."""
    port = _free_port()
    environ = {**suite.clean_environment(os.environ), "DATA_DIR": str(tmp_path), "BOOTSTRAP": "no"}
    words = [sys.executable, "manage.py", "serve", "--port", str(port)]
    process = subprocess.Popen(words, cwd=suite.ROOT, env=environ, stdout=subprocess.PIPE, text=True)
    yield process, port
    process.kill()
    process.wait()
    if process.stdout:
        process.stdout.close()


def _read_until(process: subprocess.Popen[str], pattern: str) -> str:
    said = ""
    for line in process.stdout or ():
        said += line
        if re.search(pattern, line):
            break
    return said


def test_a_new_lab_serves_its_set_up_page_restarts_its_worker_and_stops_when_told(lab, tmp_path):
    process, port = lab
    said = _read_until(process, "Labcases is at")
    token = first_manager.token_for(tmp_path / "keys")
    assert f"http://127.0.0.1:{port}/set-up/{token}/" in said
    assert _status(port, f"/set-up/{token}/") == 200

    (worker,) = _children(process.pid)
    os.kill(worker, signal.SIGKILL)
    assert "starting it again in 1 s" in _read_until(process, "The worker stopped")

    process.send_signal(signal.SIGTERM)
    assert process.wait(timeout=servers.GRACE_SECONDS + 5) == 0
    assert servers.why_not("127.0.0.1", port) == ""
