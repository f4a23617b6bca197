"""Several pytest runs that close as one: what earlier runs found is added to the closing line of the next.

The test command runs the suite in parts (side by side, one by one, on PostgreSQL) and names a file in
``TEST_TALLY``. Without that variable only the line on skips is added, and the rule that CI skips nothing.
"""

from __future__ import annotations

import json
import os
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

COUNTED = ("passed", "failed", "error", "skipped", "xfailed", "xpassed")


def _reason(report: Any) -> str:
    """Why a test was skipped, in the words of whoever skipped it."""
    text = report.longrepr[2] if isinstance(report.longrepr, tuple) else str(report.longrepr)
    return text.removeprefix("Skipped: ")


def found_by(stats: dict[str, list[Any]]) -> dict[str, Any]:
    """What this run found: counts, reasons of skips, names of failures, and whether PostgreSQL should run some."""
    reports = {kind: [r for r in stats.get(kind, []) if hasattr(r, "nodeid")] for kind in COUNTED}
    return {
        "counts": {kind: len(of_kind) for kind, of_kind in reports.items()},
        "skips": dict(Counter(_reason(r) for r in reports["skipped"])),
        "failures": [r.nodeid for kind in ("failed", "error") for r in reports[kind]],
        "postgres": any("postgres" in getattr(r, "keywords", ()) for of_kind in reports.values() for r in of_kind),
    }


def added(one: dict[str, Any], two: dict[str, Any]) -> dict[str, Any]:
    """Two findings as one."""
    return {
        "counts": dict(Counter(one["counts"]) + Counter(two["counts"])),
        "skips": dict(Counter(one["skips"]) + Counter(two["skips"])),
        "failures": one["failures"] + two["failures"],
        "postgres": one["postgres"] or two["postgres"],
    }


def skip_line(skips: dict[str, int], steps: str) -> str:
    """One line: what was skipped and why.

    >>> skip_line({"no Chromium": 3}, "PostgreSQL (no server programs)")
    'Skipped: PostgreSQL (no server programs); 3 tests (no Chromium).'
    >>> skip_line({}, "")
    'Skipped: nothing.'
    """
    parts = [steps] if steps else []
    parts += [f"{n} {'test' if n == 1 else 'tests'} ({why})" for why, n in sorted(skips.items())]
    return f"Skipped: {'; '.join(parts) or 'nothing'}."


class _Earlier:
    """Stands in the closing line for one test of an earlier run."""


def _earlier(path: str) -> dict[str, Any]:
    nothing = {"counts": {}, "skips": {}, "failures": [], "postgres": False}
    return json.loads(Path(path).read_text()) if path and Path(path).exists() else nothing


@pytest.hookimpl(tryfirst=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """With CI set a skip is a failure."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if reporter is None or hasattr(session.config, "workerinput") or not os.environ.get("CI"):
        return
    skipped = bool(reporter.stats.get("skipped")) or bool(os.environ.get("TEST_SKIPPED_STEPS"))
    if skipped and session.exitstatus in (pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_terminal_summary(terminalreporter: Any, config: pytest.Config) -> Any:
    """Outermost, so that it runs after pytest's own summaries and just before its closing line."""
    result = yield
    if hasattr(config, "workerinput"):
        return result  # xdist's workers sum up too, unseen; what they ran is counted where they report to
    path = os.environ.get("TEST_TALLY", "")
    before, now = _earlier(path), found_by(terminalreporter.stats)
    total = added(before, now)
    if path:
        Path(path).write_text(json.dumps(total))
    for name in before["failures"]:
        terminalreporter.write_line(f"FAILED in an earlier part: {name}", red=True)
    if failed_steps := os.environ.get("TEST_FAILED_STEPS"):
        terminalreporter.write_line(f"FAILED before the tests: {failed_steps}", red=True)
    line = skip_line(total["skips"], os.environ.get("TEST_SKIPPED_STEPS", ""))
    strict = bool(os.environ.get("CI")) and line != skip_line({}, "")
    terminalreporter.write_line(line + (" With CI set that is a failure." if strict else ""), red=strict)
    for kind, count in before["counts"].items():
        terminalreporter.stats.setdefault(kind, []).extend(_Earlier() for _ in range(count))
    return result
