"""A wipe is begun in the same moment as the medium is assigned, or as another wipe of it is begun: one of them wins."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.db import IntegrityError

from labcases.stock.actions import NotNow, assign_destination
from labcases.stock.actions.refusals import DestinationTaken, DoesNotFit
from labcases.stock.models import Destination, DestinationAssignment, Wipe
from labcases.stock.wiping import actions
from tests.builders import NOON, Make

AtOnce = Callable[..., list[Any]]
Press = Callable[[], Any]


@pytest.fixture
def make(transactional_db: None) -> Make:
    made = Make()
    made.profile()
    return made


def wipes(make: Make, medium: Destination) -> Press:
    by = make.everyone()
    return lambda: actions.begin_wipe(destination=medium, method="clear", tool="zeros", by=by, happened=NOON)


def assigns(make: Make, medium: Destination) -> Press:
    item, by = make.item(), make.everyone()
    return lambda: assign_destination(destination=medium, patient=item, by=by, happened=NOON)


def test_of_two_who_begin_a_wipe_one_does_and_the_other_hears_since_when(at_once: AtOnce, make: Make) -> None:
    medium = make.destination()
    results = at_once(*(wipes(make, medium) for _ in range(4)))
    assert sum(isinstance(result, Wipe) for result in results) == 1
    told = [str(result) for result in results if isinstance(result, NotNow)]
    assert len(told) == 3
    assert all("runs since" in words for words in told)


def test_a_medium_is_assigned_or_wiped_and_never_both(at_once: AtOnce, make: Make) -> None:
    for _ in range(3):
        medium = make.destination()
        results = at_once(wipes(make, medium), assigns(make, medium))
        won = [result for result in results if isinstance(result, Wipe | DestinationAssignment)]
        assert len(won) == 1
        assert any(isinstance(result, NotNow | DestinationTaken | DoesNotFit) for result in results)
        going = Wipe.objects.going().filter(destination=medium).exists()
        assert going != DestinationAssignment.objects.filter(destination=medium, ended=None).exists()


def test_without_the_look_inside_only_the_database_would_stop_a_second_wipe(
    at_once: AtOnce, make: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The control: nobody looks, and the claim lets a medium through that is being wiped."""
    medium = make.destination()
    monkeypatch.setattr(actions, "_must_be_ours_and_idle", lambda medium: None)
    monkeypatch.setattr(actions, "WIPEABLE", (*actions.WIPEABLE, Destination.State.WIPING))
    results = at_once(*(wipes(make, medium) for _ in range(2)))
    assert sorted(type(result).__name__ for result in results) == ["IntegrityError", "Wipe"]
    assert any(isinstance(result, IntegrityError) for result in results)
