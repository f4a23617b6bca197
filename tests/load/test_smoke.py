"""Every benchmark runs, in its short form, within its own limits."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from labcases.ops.suite import ROOT, clean_environment

BENCHES = sorted(Path(__file__).parent.glob("bench_*.py"))


def test_there_are_benchmarks() -> None:
    assert len(BENCHES) >= 8


@pytest.mark.parametrize("bench", BENCHES, ids=lambda path: path.stem)
def test_a_benchmark_keeps_its_limits(bench: Path) -> None:
    words = [sys.executable, str(bench), "--smoke"]
    environ = {**clean_environment(os.environ), "PYTHONDONTWRITEBYTECODE": "1"}
    ran = subprocess.run(words, cwd=ROOT, env=environ, capture_output=True, text=True, timeout=300, check=False)
    assert ran.returncode == 0, ran.stdout + ran.stderr[-2000:]
    assert any(character.isdigit() for character in ran.stdout)
