"""Waiting in line to write: one at a time, whoever asks again holds it, and it is given on whatever happens."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings

from labcases.core import turns
from labcases.core.actions import writing


@pytest.fixture(autouse=True)
def door(tmp_path: Path) -> Iterator[Path]:
    turns.open_at(tmp_path / "below" / "turn")
    yield tmp_path
    turns.open_at(settings.DATA_DIR / "turn")


def _gets_a_turn(within: float) -> bool:
    got = threading.Event()

    def ask() -> None:
        with turns.turn():
            got.set()

    threading.Thread(target=ask, daemon=True).start()
    return got.wait(within)


def test_somebody_else_waits_until_the_turn_is_given_on() -> None:
    with turns.turn():
        assert not _gets_a_turn(0.2)
    assert _gets_a_turn(5)


def test_whoever_holds_the_turn_may_ask_again() -> None:
    with turns.turn(), turns.turn():
        pass
    assert _gets_a_turn(5)


def test_what_goes_wrong_gives_the_turn_on() -> None:
    with pytest.raises(ZeroDivisionError), turns.turn():
        raise ZeroDivisionError
    assert _gets_a_turn(5)


@pytest.mark.django_db(transaction=True)
def test_a_transaction_that_writes_holds_the_turn() -> None:
    with writing():
        assert not _gets_a_turn(0.2)
    assert _gets_a_turn(5)
