"""The test command: lint, format check, types, then the whole suite on SQLite and the marked part on PostgreSQL.

With arguments, pytest gets them and the checks before it are left out. Runs on the standard library alone.
"""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from labcases.ops import cluster

ROOT = Path(__file__).resolve().parent.parent.parent
NO_TESTS, INTERRUPTED = 5, 2
STEPS = {
    "ruff check": ("-m", "ruff", "check", "."),
    "ruff format --check": ("-m", "ruff", "format", "--check", "."),
    "mypy": ("-m", "mypy", "labcases", "manage.py"),
}
SIDE_BY_SIDE = ("-n", "2", "--dist", "loadfile")  # what a file's tests share is made once
# Settings of a real lab in the developer's environment must not colour the tests.
OURS = ("DATA_DIR", "DATABASE_URL", "DEBUG", "DEMO", "LOG_LEVEL", "SECRET_KEY", "SITE_URL", "TRUST_PROXY")


def clean_environment(environ: Mapping[str, str]) -> dict[str, str]:
    """The environment without the settings of any lab.

    >>> clean_environment({"SITE_URL": "https://lab.example", "EMAIL_HOST": "mail.example", "HOME": "/home/ada"})
    {'HOME': '/home/ada'}
    """
    dropped = {name + end for name in OURS for end in ("", "_FILE")}
    return {name: value for name, value in environ.items() if name not in dropped and not name.startswith("EMAIL_")}


def overall(codes: Sequence[int]) -> int:
    """One exit code for several pytest runs: the first failure; 5 (no tests) only when no run had any.

    >>> overall([0, 5, 0]), overall([5, 5]), overall([0, 1, 0])
    (0, 5, 1)
    """
    failed = [code for code in codes if code not in (0, NO_TESTS)]
    if failed:
        return failed[0]
    return NO_TESTS if codes and set(codes) == {NO_TESTS} else 0


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def _call(words: Sequence[str], environ: Mapping[str, str]) -> int:
    return subprocess.run([sys.executable, *words], cwd=ROOT, env=environ, check=False).returncode  # noqa: S603


def failed_checks(environ: Mapping[str, str]) -> list[str]:
    """Run lint, format check and types; the names of those that failed."""
    failed = []
    for name, words in STEPS.items():
        began = time.monotonic()
        if _call(words, environ):
            failed.append(name)
        _say(f"{name}: {'FAILED' if name in failed else 'fine'} ({time.monotonic() - began:.1f} s)")
    return failed


@contextlib.contextmanager
def _stopped_cleanly() -> Iterator[None]:
    """Being asked to stop unwinds like Ctrl-C, so that the PostgreSQL cluster is removed."""

    def unwind(*_: object) -> None:
        raise KeyboardInterrupt

    previous = signal.signal(signal.SIGTERM, unwind)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, previous)


def _postgres_is_wanted(tally: Path) -> bool:
    return tally.exists() and '"postgres": true' in tally.read_text()


def run_pytest(arguments: Sequence[str], environ: Mapping[str, str], programs: Path | None) -> int:
    """The suite in its parts; the last closing line counts them all."""
    parts = {"": ()} if arguments else {"parallel": SIDE_BY_SIDE, "serial": ()}
    on_postgres = {"postgres": ()} if arguments else {"postgres parallel": SIDE_BY_SIDE, "postgres serial": ()}
    codes = []
    with tempfile.TemporaryDirectory(prefix="labcases-tally-") as folder:
        tally = Path(folder) / "tally.json"
        environ = {**environ, "TEST_TALLY": str(tally)}
        for part, options in parts.items():
            codes.append(_call(("-m", "pytest", *options, *arguments), {**environ, "TEST_PART": part}))
            if codes[-1] == INTERRUPTED:
                return INTERRUPTED
        if programs and _postgres_is_wanted(tally):
            with cluster.throwaway(programs) as url:
                for part, options in on_postgres.items():
                    more = {"TEST_PART": part, "TEST_DATABASE_URL": url}
                    codes.append(_call(("-m", "pytest", *options, *arguments), {**environ, **more}))
    return overall(codes)


def run(arguments: Sequence[str]) -> int:
    """The whole command; returns its exit code."""
    environ = clean_environment(os.environ)
    programs = cluster.programs()
    if programs is None:
        environ["TEST_SKIPPED_STEPS"] = "PostgreSQL (its server programs are not on this machine)"
    with _stopped_cleanly():
        try:
            failed = [] if arguments else failed_checks(environ)
            if failed:
                environ["TEST_FAILED_STEPS"] = ", ".join(failed)
            return run_pytest(arguments, environ, programs) or int(bool(failed))
        except KeyboardInterrupt:
            return INTERRUPTED
