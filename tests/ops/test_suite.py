"""The test command's own arithmetic: parts that close as one, skips that count under CI."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.db import IntegrityError, connection
from django.utils import timezone

from labcases.custody import triggers
from labcases.custody.models import Event, Head
from labcases.ops import cluster, suite
from tests import tally

ROOT = Path(suite.ROOT)


@pytest.mark.parametrize(
    ("codes", "code"), [([0, 0], 0), ([0, 5], 0), ([5, 5], 5), ([0, 1, 0], 1), ([5, 2], 2), ([1, 3], 1)]
)
def test_one_failed_part_fails_the_whole(codes, code):
    assert suite.overall(codes) == code


def test_a_developers_own_settings_do_not_colour_the_tests():
    environ = {"DATABASE_URL": "postgresql://db.example/lab", "SECRET_KEY_FILE": "/run/s", "EMAIL_USER": "a", "CI": "1"}
    assert suite.clean_environment(environ) == {"CI": "1"}


def test_parts_are_added_up():
    one = {"counts": {"passed": 3}, "skips": {"no Chromium": 1}, "failures": ["a"], "postgres": False}
    two = {"counts": {"passed": 2, "failed": 1}, "skips": {"no Chromium": 2}, "failures": ["b"], "postgres": True}
    total = tally.added(one, two)
    assert total["counts"] == {"passed": 5, "failed": 1}
    assert total["skips"] == {"no Chromium": 3}
    assert (total["failures"], total["postgres"]) == (["a", "b"], True)


def _run_pytest(folder: Path, body: str, **environ: str) -> subprocess.CompletedProcess[str]:
    (folder / "test_one.py").write_text(body)
    (folder / "pytest.ini").write_text("[pytest]\n")
    words = [sys.executable, "-m", "pytest", "-p", "no:randomly", "-p", "tests.tally", "-p", "no:django", str(folder)]
    clean = {k: v for k, v in os.environ.items() if k not in ("CI", "PYTEST_XDIST_WORKER") and "TEST_" not in k}
    where = {**clean, "PYTHONPATH": str(ROOT), **environ}
    return subprocess.run(
        [*words, "-c", str(folder / "pytest.ini")], env=where, capture_output=True, text=True, check=False
    )


SKIPS = "import pytest\ndef test_a(): pass\ndef test_b(): pytest.skip('no printer')\n"


def test_a_skip_is_said_in_one_line_just_before_pytests_own(tmp_path):
    run = _run_pytest(tmp_path, SKIPS)
    assert run.returncode == 0, run.stdout
    assert run.stdout.splitlines()[-2] == "Skipped: 1 test (no printer)."


def test_with_ci_set_a_skip_is_a_failure(tmp_path):
    run = _run_pytest(tmp_path, SKIPS, CI="1")
    assert run.returncode == 1
    assert "With CI set that is a failure." in run.stdout


def test_with_ci_set_a_skipped_engine_is_a_failure(tmp_path):
    run = _run_pytest(tmp_path, "def test_a(): pass\n", CI="1", TEST_SKIPPED_STEPS="PostgreSQL (not here)")
    assert run.returncode == 1


def test_the_last_closing_line_counts_every_part_and_repeats_failures(tmp_path):
    path = str(tmp_path / "tally.json")
    _run_pytest(tmp_path, "def test_a(): pass\ndef test_b(): assert False\n", TEST_TALLY=path)
    last = _run_pytest(tmp_path, "def test_c(): pass\n", TEST_TALLY=path)
    assert "1 failed, 2 passed" in last.stdout.splitlines()[-1]
    assert "FAILED in an earlier part: test_one.py::test_b" in last.stdout


def test_the_newest_postgresql_is_taken():
    paths = [f"/usr/lib/postgresql/{version}/bin/initdb" for version in ("9.6", "15", "13")]
    assert cluster.newest(paths) == paths[1]
    assert cluster.newest([]) == ""


@pytest.mark.postgres
def test_two_at_once_each_have_a_connection_of_their_own(at_once):
    def add() -> str:
        Head.objects.create(pk=1)
        return connection.vendor

    results = at_once(add, add)
    assert [type(result) for result in sorted(results, key=repr)] == [str, IntegrityError]
    assert Head.objects.count() == 1


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("turn", ["first", "second"])
def test_emptying_the_tables_leaves_the_ledgers_triggers_in_place(turn):
    assert triggers.missing(connection) == []
    now = timezone.now()
    Event.objects.create(
        sequence=1, body=b"{}", digest="0" * 64, kind="trial", role="worker", happened=now, entered=now
    )


def test_side_by_side_runs_are_counted_once(tmp_path):
    path = str(tmp_path / "tally.json")
    run = _run_pytest(tmp_path, "def test_a(): pass\ndef test_b(): pass\n", TEST_TALLY=path, PYTEST_ADDOPTS="-n 2")
    assert "2 passed" in run.stdout.splitlines()[-1]
