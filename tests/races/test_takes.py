"""Several people count in one stocktake at the same moment: a thing counts once, and the others hear who was faster."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from labcases.stock.takes import actions
from labcases.stock.takes.models import TakeLine
from tests.builders import NOON, Make

AtOnce = Callable[..., list[Any]]
PEOPLE = 4


@pytest.fixture
def scans(transactional_db: None) -> Callable[[str], list[Callable[[], Any]]]:
    """Four people read the same label in the same shelf: of a thing that is expected, or of one that is not."""
    make = Make()
    make.profile()
    shelf, elsewhere = make.place(), make.place()
    codes = {"expected": make.destination(at=shelf).thing.code, "unexpected": make.destination(at=elsewhere).thing.code}
    take = actions.begin_take(places=[shelf], by=make.everyone(), happened=NOON)
    people = [make.everyone() for _ in range(PEOPLE)]

    def of(which: str) -> list[Callable[[], Any]]:
        def press(by: Any) -> Callable[[], Any]:
            return lambda: actions.count(take=take, read=codes[which], place=shelf, by=by, happened=NOON)

        return [press(by) for by in people]

    return of


@pytest.mark.parametrize("which", ["expected", "unexpected"])
def test_of_several_who_scan_one_thing_one_counts_it(
    at_once: AtOnce, scans: Callable[[str], list[Callable[[], Any]]], which: str
) -> None:
    results = at_once(*scans(which))
    assert [result.fresh for result in results].count(True) == 1, results
    assert sum("counted already, by" in result.sentence for result in results) == PEOPLE - 1
    assert TakeLine.objects.exclude(counted=None).count() == 1


def test_without_the_claim_each_would_count_it(
    at_once: AtOnce, scans: Callable[[str], list[Callable[[], Any]]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The control: whoever has seen the line uncounted counts it."""
    monkeypatch.setattr(actions, "_claim", lambda lines, place, new: lines.update(outcome="found", **new))
    assert [result.fresh for result in at_once(*scans("expected"))] == [True] * PEOPLE


def test_an_answer_is_one_event_however_many_give_it(at_once: AtOnce, transactional_db: None) -> None:
    make = Make()
    make.profile()
    shelf = make.place()
    make.destination(at=shelf)
    take = actions.begin_take(places=[shelf], by=make.everyone(), happened=NOON)
    line, people = take.lines.get(), [make.everyone() for _ in range(PEOPLE)]

    def press(by: Any) -> Callable[[], Any]:
        return lambda: actions.answer(take=take, lines=[line], how="missing", by=by, happened=NOON)

    assert sorted(at_once(*(press(by) for by in people))) == [0, 0, 0, 1]
