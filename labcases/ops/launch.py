"""``demo`` and ``serve``: bring data and static files up to date, then run server and worker.

The standard library alone: Django works in child processes, so the process that watches them stays small.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from labcases.env import BadSetting, Env
from labcases.ops.servers import Supervisor, why_not

ROOT = Path(__file__).resolve().parent.parent.parent
LOG_INS = "log-ins.txt"  # written when the invented lab is complete; shown at every start
PREPARED = "prepared-for"  # the code that the demo's data and static files were last made ready for
MARK = "demo-lab"  # only a folder with this mark is ever wiped


class CannotStart(Exception):
    """The text says why, and what to do."""


# --- decisions: plain data in and out ---------------------------------------------------------------------------


def demo_environment(environ: Mapping[str, str], port: int) -> dict[str, str]:
    """The environment of a demo: none of a real lab's settings, whatever stands in ``environ``."""
    real = ("DATABASE_URL", "SECRET_KEY", "SITE_URL", "TRUST_PROXY", "DEBUG")
    dropped = {name + end for name in real for end in ("", "_FILE")}
    kept = {k: v for k, v in environ.items() if k not in dropped and not k.startswith("EMAIL_")}
    return {**kept, "DEMO": "1", "SITE_URL": f"http://127.0.0.1:{port}"}


def real_environment(environ: Mapping[str, str], port: int) -> dict[str, str]:
    """The environment of a real lab: as given, and an address of this machine where none is set."""
    default = {} if "SITE_URL" in environ or "SITE_URL_FILE" in environ else {"SITE_URL": f"http://127.0.0.1:{port}"}
    return {**environ, **default}


def data_folder(environ: Mapping[str, str]) -> Path:
    """The data folder, as ``labcases.settings`` finds it."""
    env = Env(environ)
    folder = Path(env.text("DATA_DIR") or ROOT / ".data").resolve()
    return folder / "demo" if env.yes("DEMO") else folder


def code_fingerprint(root: Path) -> str:
    """Changes whenever code, static files or pins change: names, sizes and times of the files, hashed."""
    digest = hashlib.sha256()
    files = [*root.glob("labcases/**/*.py"), *root.glob("static/**/*"), root / "requirements.txt"]
    for path in sorted(files):
        if path.is_file():
            seen = path.stat()
            digest.update(f"{path}\0{seen.st_size}\0{seen.st_mtime_ns}\n".encode())
    return digest.hexdigest()


def is_prepared(folder: Path, fingerprint: str) -> bool:
    """True when this very code made the demo ready before, and the data is still there."""
    mark = folder / PREPARED
    whole = (folder / LOG_INS).exists() and (folder / "labcases.sqlite3").exists()
    return whole and mark.exists() and mark.read_text() == fingerprint


def wipe_demo(folder: Path) -> None:
    """Empty the demo's folder. Raises CannotStart for any folder that does not bear the demo's mark."""
    if folder.exists() and any(folder.iterdir()):
        if not (folder / MARK).exists():
            raise CannotStart(
                f"{folder} holds something that is not the demo's, so it was left alone. Move it away first."
            )
        shutil.rmtree(folder)


def arguments_of(command: str, arguments: Sequence[str]) -> argparse.Namespace:
    """What was typed after ``demo`` or ``serve``."""
    parser = argparse.ArgumentParser(prog=f"manage.py {command}", allow_abbrev=False)
    parser.add_argument("--port", type=_port, default=8000, help="where to listen (8000)")
    if command == "demo":
        parser.add_argument("--fresh", action="store_true", help="start again with a new invented lab")
        parser.add_argument("--no-serve", action="store_true", help="make the data ready, start nothing")
        parser.set_defaults(host="127.0.0.1")
    else:
        parser.add_argument(
            "--host", default="127.0.0.1", help="the address to listen on (127.0.0.1: this machine only)"
        )
        parser.set_defaults(fresh=False, no_serve=False)
    return parser.parse_args(arguments)


def _port(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"a port is a number from 1 to 65535, not {text!r}")
    return int(text)


# --- steps ------------------------------------------------------------------------------------------------------


def say(line: str) -> None:
    """One line to the person at the terminal, at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


@contextlib.contextmanager
def _held(folder: Path, *, for_wiping: bool) -> Iterator[None]:
    """Hold the demo's folder while it runs, so that ``--fresh`` elsewhere cannot empty it underneath."""
    try:
        import fcntl
    except ImportError:  # Windows
        yield
        return
    folder.parent.mkdir(parents=True, exist_ok=True)
    with (folder.parent / f"{folder.name}.lock").open("a") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB if for_wiping else fcntl.LOCK_SH | fcntl.LOCK_NB)
        except BlockingIOError:
            raise CannotStart("The demo is running in another window. Stop it there first (Ctrl-C).") from None
        fcntl.flock(lock, fcntl.LOCK_SH)
        yield


def _prepare(environ: Mapping[str, str]) -> None:
    words = [sys.executable, str(ROOT / "manage.py"), "prepare"]
    if subprocess.run(words, cwd=ROOT, env={**environ, "BOOTSTRAP": "no"}, check=False).returncode:  # noqa: S603
        raise CannotStart("Nothing was started, since the data could not be made ready; the reason stands above.")


def _prepare_demo(folder: Path, environ: Mapping[str, str], *, fresh: bool) -> None:
    if fresh or not (folder / LOG_INS).exists():  # no log-ins: an earlier start was cut off half-way
        wipe_demo(folder)
    fingerprint = code_fingerprint(ROOT)
    if is_prepared(folder, fingerprint):
        return
    folder.mkdir(parents=True, exist_ok=True)
    (folder / MARK).touch()
    _prepare(environ)
    (folder / PREPARED).write_text(fingerprint)


def _welcome(command: str, folder: Path, environ: Mapping[str, str]) -> None:
    name = "The demo" if command == "demo" else "Labcases"
    say(f"{name} is at {environ.get('SITE_URL', '')}/ (Ctrl-C stops it)")
    if command == "demo":
        say((folder / LOG_INS).read_text().rstrip())


def _start(command: str, given: argparse.Namespace) -> int:
    if not given.no_serve and (sentence := why_not(given.host, given.port)):
        raise CannotStart(sentence)
    is_demo = command == "demo"
    environ = (demo_environment if is_demo else real_environment)(os.environ, given.port)
    folder = data_folder(environ)
    if not is_demo and (folder / MARK).exists():
        raise CannotStart(
            f"{folder} is the demo's folder, which demo --fresh empties. Give a real lab its own: DATA_DIR."
        )
    with _held(folder, for_wiping=given.fresh) if is_demo else contextlib.nullcontext():
        if is_demo:
            _prepare_demo(folder, environ, fresh=given.fresh)
        else:
            _prepare(environ)
        if given.no_serve:
            say((folder / LOG_INS).read_text().rstrip())
            return 0
        environ["BOOTSTRAP"] = "no"  # done already; the worker starts the faster for it
        return Supervisor(say).run(environ, given.host, given.port, lambda: _welcome(command, folder, environ))


def run(command: str, arguments: Sequence[str]) -> int:
    """``demo`` or ``serve``; returns the exit code."""
    try:
        return _start(command, arguments_of(command, arguments))
    except (CannotStart, BadSetting) as reason:
        sys.stderr.write(f"{reason}\n")
        return 1
