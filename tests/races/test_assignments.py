"""Two people press at the same moment for one part, and for one destination: one gets it, the other is told."""

from __future__ import annotations

import html
from collections.abc import Callable
from typing import Any

import pytest
from django.db import IntegrityError
from django.test import Client
from django.urls import reverse

from labcases.stock import actions
from labcases.stock.actions import media, parts
from labcases.stock.models import Destination, DestinationAssignment, DonorPart, PartAssignment
from tests.builders import NOON, Make

AtOnce = Callable[..., list[Any]]


@pytest.fixture
def both_want_a_part(transactional_db: None) -> list[Callable[[], Any]]:
    """Two presses; each has opened its own page before, on which the part is still free."""
    make = Make()
    make.profile()
    part = make.part()
    copies = [DonorPart.objects.with_context().get(pk=part.pk) for _ in range(2)]
    people = [(make.item(), make.everyone()) for _ in copies]

    def press(copy: DonorPart, item: Any, by: Any) -> Callable[[], Any]:
        return lambda: actions.assign_donor(part=copy, patient=item, by=by, happened=NOON)

    return [press(copy, item, by) for copy, (item, by) in zip(copies, people, strict=True)]


@pytest.fixture
def both_want_a_medium(transactional_db: None) -> list[Callable[[], Any]]:
    """Two presses for one destination, each from a page on which it is still clean."""
    make = Make()
    make.profile()
    medium = make.destination()
    copies = [Destination.objects.with_context().get(pk=medium.pk) for _ in range(2)]
    people = [(make.item(), make.everyone()) for _ in copies]

    def press(copy: Destination, item: Any, by: Any) -> Callable[[], Any]:
        return lambda: actions.assign_destination(destination=copy, patient=item, by=by, happened=NOON)

    return [press(copy, item, by) for copy, (item, by) in zip(copies, people, strict=True)]


def only(kind: type[Any], results: list[Any]) -> Any:
    """The one result of this kind, of two."""
    found = [result for result in results if isinstance(result, kind)]
    assert len(found) == 1, results
    return found[0]


def test_of_two_who_press_for_one_part_one_gets_it_and_the_other_hears_who(
    at_once: AtOnce, both_want_a_part: list[Callable[[], Any]]
) -> None:
    results = at_once(*both_want_a_part)
    won = only(PartAssignment, results)
    told = only(actions.PartTaken, results)
    assert told.what == f"{won.part} is taken by {won.by.name}: it serves {won.item}."
    assert PartAssignment.objects.count() == 1


def test_without_the_claim_both_would_take_the_part_and_only_the_database_would_stop_them(
    at_once: AtOnce, both_want_a_part: list[Callable[[], Any]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The control: look at the copy from the page, then take. Both see it free, and both go on to write."""

    def look_then_take(part: DonorPart, patient: Any, *, lifting: bool = False) -> int:
        if part.state != DonorPart.State.FREE:
            return 0
        return DonorPart.objects.filter(pk=part.pk).update(state=DonorPart.State.ASSIGNED)

    monkeypatch.setattr(parts, "_claim", look_then_take)
    results = at_once(*both_want_a_part)
    only(IntegrityError, results)
    assert PartAssignment.objects.count() == 1


def test_of_two_who_press_for_one_destination_one_gets_it_and_the_other_hears_who(
    at_once: AtOnce, both_want_a_medium: list[Callable[[], Any]]
) -> None:
    results = at_once(*both_want_a_medium)
    won = only(DestinationAssignment, results)
    told = only(actions.DestinationTaken, results)
    assert told.what == f"{won.destination} is taken by {won.by.name}: it serves {won.item}."
    assert Destination.objects.get().held_for == won.item.case


def test_without_the_claim_both_would_take_the_destination_and_only_the_database_would_stop_them(
    at_once: AtOnce, both_want_a_medium: list[Callable[[], Any]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The control, for destinations."""

    def look_then_take(medium: Destination, item: Any) -> int:
        if medium.state not in Destination.CLEAN:
            return 0
        now = {"state": Destination.State.ASSIGNED, "held_for": item.case}
        return Destination.objects.filter(pk=medium.pk).update(**now)

    monkeypatch.setattr(media, "_claim", look_then_take)
    results = at_once(*both_want_a_medium)
    only(IntegrityError, results)
    assert DestinationAssignment.objects.count() == 1


@pytest.mark.parametrize("name", ["assign-donor", "assign-destination"])
def test_four_real_buttons_at_once_make_one_assignment_and_three_sentences(
    at_once: AtOnce, transactional_db: None, name: str
) -> None:
    make = Make()
    make.profile()
    chosen = str(make.part() if name == "assign-donor" else make.destination())
    addresses = [reverse(f"stock:{name}", args=[str(make.item())]) for _ in range(4)]
    clients = [Client() for _ in addresses]
    for client in clients:
        client.force_login(make.staff())

    def press(client: Client, address: str) -> Callable[[], Any]:
        return lambda: client.post(address, {"chosen": chosen})

    answers = at_once(*(press(*pair) for pair in zip(clients, addresses, strict=True)))
    assert sorted(answer.status_code for answer in answers) == [303, 422, 422, 422]
    said = [html.unescape(answer.content.decode()) for answer in answers if answer.status_code == 422]
    assert all(f"{chosen} is taken by Person" in page for page in said)
