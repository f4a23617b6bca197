"""Eight processes press for the same parts: every part serves one patient, and who was slower hears who was faster.

Short in the suite; ``PART_RACES=full`` makes it 100 parts in each of 50 rounds.
"""

from __future__ import annotations

import multiprocessing
import os
import random
from collections import Counter
from typing import Any

import pytest
from django.db import IntegrityError, connections

from labcases.stock import actions
from labcases.stock.actions import parts as verbs
from labcases.stock.models import DonorPart, PartAssignment
from tests.builders import NOON, Make

FULL = os.environ.get("PART_RACES") == "full"
PROCESSES, PARTS, ROUNDS = 8, 100 if FULL else 4, 50 if FULL else 1
FORK = multiprocessing.get_context("fork")


def press(part: DonorPart, item: Any, by: Any) -> tuple[str, str]:
    """What one press came to: won, told (with the sentence), or wrong (with the mistake)."""
    try:
        actions.assign_donor(part=part, patient=item, by=by, happened=NOON)
    except actions.PartTaken as taken:
        return "told", taken.what
    except IntegrityError as mistake:
        return "wrong", str(mistake)
    return "won", str(part)


def clerk(n: int, copies: list[DonorPart], item: Any, by: Any, start: Any, said: Any) -> None:
    """One process: presses for every part, in an order of its own, from copies on which each is still free."""
    random.Random(n).shuffle(copies)
    start.wait()
    said.put([press(part, item, by) for part in copies])
    connections.close_all()


def race(make: Make) -> list[tuple[str, str]]:
    """One round with new parts; every press and what it came to."""
    pks = [make.part().pk for _ in range(PARTS)]
    people = [(make.item(), make.everyone()) for _ in range(PROCESSES)]
    rows = DonorPart.objects.with_context().filter(pk__in=pks)
    copies = [list(rows.all()) for _ in people]
    start, said = FORK.Barrier(PROCESSES, timeout=120), FORK.Queue()
    connections.close_all()  # a connection is not shared by two processes
    clerks = [
        FORK.Process(target=clerk, args=(n, mine, item, by, start, said))
        for n, (mine, (item, by)) in enumerate(zip(copies, people, strict=True))
    ]
    for one in clerks:
        one.start()
    results = [result for _ in clerks for result in said.get(timeout=600)]
    for one in clerks:
        one.join(timeout=60)
    return results


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


def test_without_the_claim_processes_take_what_others_have_and_only_the_database_stops_them(
    make: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The control: each believes its own copy, on which the part is free."""

    def look_then_take(part: DonorPart, patient: Any, *, lifting: bool = False) -> int:
        if part.state != DonorPart.State.FREE:
            return 0
        return DonorPart.objects.filter(pk=part.pk).update(state=DonorPart.State.ASSIGNED)

    monkeypatch.setattr(verbs, "_claim", look_then_take)
    counts = Counter(what for what, _ in race(make))
    assert counts == {"won": PARTS, "wrong": PARTS * (PROCESSES - 1)}
    assert PartAssignment.objects.filter(ended=None).count() == PARTS
