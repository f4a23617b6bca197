"""Several reserve room on one pool at the same moment: never more than there is, and who is late is told."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.db import IntegrityError
from django.db.models import F, Sum

from labcases.stock.pools import actions
from labcases.stock.pools.models import Pool, PoolImage
from tests.builders import NOON, Make

AtOnce = Callable[..., list[Any]]
SIZE = 976_773_168 * 512
ROOM_FOR = 3


@pytest.fixture
def presses(transactional_db: None, settings: Any) -> list[Callable[[], Any]]:
    """Six presses for a pool that has room for three; each has seen the page on which it was empty."""
    settings.SECRETS_KEY = "5e" * 32  # a lab on a database server is given its key
    make = Make()
    make.profile()
    by = make.everyone()
    pool = actions.keep_pool(name="Long shelf", capacity=SIZE * ROOM_FOR, by=by, happened=NOON)
    patients = [(make.item(), make.everyone()) for _ in range(2 * ROOM_FOR)]

    def press(item: Any, who: Any) -> Callable[[], Any]:
        return lambda: actions.assign_pool(pool=pool, patient=item, by=who, happened=NOON)

    return [press(*pair) for pair in patients]


def reserved() -> tuple[int, int]:
    """What the pool says, and the sum over its images."""
    total = PoolImage.objects.open().aggregate(sum=Sum("size"))["sum"] or 0
    return Pool.objects.get().reserved, total


def test_the_sum_never_passes_the_capacity_and_the_late_are_told(
    at_once: AtOnce, presses: list[Callable[[], Any]]
) -> None:
    results = at_once(*presses)
    assert sum(isinstance(result, PoolImage) for result in results) == ROOM_FOR
    told = [result for result in results if not isinstance(result, PoolImage)]
    assert all(isinstance(one, actions.DoesNotFit) for one in told), told
    assert reserved() == (SIZE * ROOM_FOR, SIZE * ROOM_FOR)


def test_without_the_claim_only_the_database_would_stop_them(
    at_once: AtOnce, presses: list[Callable[[], Any]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The control: everybody believes the page on which the pool was empty, and takes."""
    monkeypatch.setattr(
        actions, "_claim", lambda pool, size: Pool.objects.filter(pk=pool.pk).update(reserved=F("reserved") + size)
    )
    monkeypatch.setattr(Pool, "free", property(lambda pool: pool.capacity))
    results = at_once(*presses)
    assert sum(isinstance(result, IntegrityError) for result in results) == ROOM_FOR
    assert reserved() == (SIZE * ROOM_FOR, SIZE * ROOM_FOR)
