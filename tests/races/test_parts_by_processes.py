"""Eight processes press for the same parts: every part serves one patient, and who was slower hears who was faster.

Short in the suite; ``PART_RACES=full`` makes it 100 parts in each of 50 rounds.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections import Counter
from typing import Any

import pytest
from django.conf import settings
from django.db import connections

from labcases.ops.suite import ROOT
from labcases.stock.models import PartAssignment
from tests.builders import Make

FULL = os.environ.get("PART_RACES") == "full"
PROCESSES, PARTS, ROUNDS = 8, 100 if FULL else 4, 50 if FULL else 1
CLERK = [sys.executable, "-m", "tests.races.part_clerk"]


def orders(make: Make, parts: list[int], *, claims: bool) -> dict[str, Any]:
    """What one clerk is told: where the database and the keys are, which patient waits, which parts to press for."""
    there = connections["default"].settings_dict
    database = {name: there[name] for name in ("ENGINE", "NAME", "USER", "PASSWORD", "HOST", "PORT", "OPTIONS")}
    by, item = make.everyone().staff, make.item()
    assert by
    told = {"database": database, "keys": settings.KEY_DIR, "parts": parts, "item": item.pk, "staff": by.pk}
    return told | {"claims": claims}


def race(make: Make, *, claims: bool = True) -> list[tuple[str, str]]:
    """One round with new parts; every press and what it came to."""
    parts = [make.part().pk for _ in range(PARTS)]
    told = [orders(make, parts, claims=claims) for _ in range(PROCESSES)]
    pipe = subprocess.PIPE
    clerks = [subprocess.Popen(CLERK, cwd=ROOT, stdin=pipe, stdout=pipe, text=True) for _ in told]
    try:
        for clerk, mine in zip(clerks, told, strict=True):
            _tell(clerk, json.dumps(mine, default=str))
        assert [clerk.stdout.readline() for clerk in clerks if clerk.stdout] == ["ready\n"] * PROCESSES
        for clerk in clerks:
            _tell(clerk, "go")
        return [tuple(pressed) for clerk in clerks for pressed in json.loads(clerk.communicate(timeout=300)[0])]
    finally:
        for clerk in clerks:
            clerk.kill()
            clerk.wait()


def _tell(clerk: subprocess.Popen[str], line: str) -> None:
    assert clerk.stdin
    clerk.stdin.write(f"{line}\n")
    clerk.stdin.flush()


@pytest.fixture
def make(transactional_db: None) -> Make:
    builder = Make()
    builder.profile()
    builder.terms()
    return builder


@pytest.mark.parametrize("number", range(ROUNDS))
def test_no_part_serves_two_and_nothing_is_said_but_who_took_it(make: Make, number: int) -> None:
    results = race(make)
    counts = Counter(what for what, _ in results)
    assert counts == {"won": PARTS, "told": PARTS * (PROCESSES - 1)}
    won = [words for what, words in results if what == "won"]
    assert len(set(won)) == PARTS
    assert all("is taken by Person" in words for what, words in results if what == "told")
    assert PartAssignment.objects.filter(ended=None).count() == PARTS


def test_without_the_claim_processes_take_what_others_have_and_only_the_database_stops_them(make: Make) -> None:
    """The control: each believes its own copy, on which the part is free."""
    counts = Counter(what for what, _ in race(make, claims=False))
    assert counts == {"won": PARTS, "wrong": PARTS * (PROCESSES - 1)}
    assert PartAssignment.objects.filter(ended=None).count() == PARTS
