"""What past uses say of the next one, who would miss a part, and who gets which."""

from __future__ import annotations

import html

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from labcases.bench.actions import examine
from labcases.stock import actions
from labcases.stock.models import PartAssignment
from labcases.stock.queries.candidates import match
from labcases.stock.queries.outcomes import history
from labcases.stock.queries.waiting import waiting_for_parts
from labcases.stock.queries.whole_lab import who_gets_which
from labcases.stock.rules import PartKind

BOARD = PartKind.CONTROLLER_BOARD


@pytest.fixture
def by(make):
    return make.everyone()


@pytest.fixture
def waits(make, noon, by):
    """A patient whose findings ask for a controller board."""

    def one(faults=("board",), **about):
        item = make.item(**{"board_number": "PB-2210"} | about)
        findings = {"faults": list(faults), "found": "Burnt.", "prospects": "fair", "needs_part": "controller board"}
        examine(item=item, by=by, happened=noon, **findings)
        return item

    return one


def used(make, noon, by, outcome, **about):
    item = make.item(board_number="PB-2210")
    part = make.part("controller board", board_number="PB-2210", main_chip="Q", **about)
    made = actions.assign_donor(part=part, patient=item, by=by, happened=noon)
    return actions.judge_part(assignment=made, outcome=outcome, because="Seen.", by=by, happened=noon)


def test_expected_success_is_counted_by_family_part_and_band(make, noon, by):
    make.family("Minnow", aliases=[("", "PL500")])
    for outcome in ("worked", "worked", "failed", "partly"):
        used(make, noon, by, outcome)
    score = PartAssignment.objects.first().verdict["score"]
    past = history(BOARD)
    (key,) = past.counts
    assert key[0] == "minnow"
    assert key[2].low <= score <= key[2].high
    assert dict(past.counts[key]) == {"worked": 2, "failed": 1, "partly": 1}
    assert history(PartKind.MOTOR).counts == {}


def test_the_match_page_says_what_to_expect_or_that_there_is_no_history(make, noon, by, waits, client_as):
    make.family("Minnow", aliases=[("", "PL500")])
    item = waits()
    make.part("controller board", board_number="PB-2210", main_chip="Q")
    client, address = client_as(), reverse("stock:assign-donor", args=[str(item)])
    assert "No history yet." in client.get(address).content.decode()
    used(make, noon, by, "worked")
    page = client.get(address).content.decode()
    assert "(1 recorded: 1 worked)" in page


def test_the_only_fit_of_another_comes_after_what_nobody_would_miss(make, waits):
    item, other = waits(board_number=""), waits(board_number="PB-9")
    only = make.part("controller board", board_number="PB-9")
    common = make.part("controller board", board_number="PB-7")
    shown = match(item, BOARD).shown
    assert [one.part for one in shown] == [common, only]
    assert shown[1].only_fit == [other]
    assert shown[0].only_fit == []


def test_a_part_is_not_the_only_fit_when_another_lies_elsewhere(make, waits):
    item, other = waits(), waits(board_number="")
    ours = make.part("controller board", board_number="PB-2210")
    make.part("controller board", board_number="PB-8")  # fits the other patient alone
    (one,) = match(item, BOARD).shown
    assert (one.part, one.only_fit, one.also) == (ours, [], 1)
    assert other in [wait.item for wait in waiting_for_parts()]


def test_who_was_served_waits_no_more(make, noon, by, waits):
    item = waits()
    actions.assign_donor(part=make.part("controller board", board_number="PB-2210"), patient=item, by=by, happened=noon)
    assert waiting_for_parts() == []


def test_the_suggestion_serves_both_where_first_come_would_serve_one(make, waits, client_as):
    first, second = waits(board_number=""), waits(board_number="PB-2210")
    make.part("controller board", board_number="PB-2210", cost=1)
    other = make.part("controller board", board_number="PB-9")
    found = who_gets_which()
    got = {line.item: line.part for line in found.lines}
    assert got[first] == other
    assert got[second] is not None
    page = html.unescape(client_as().get(reverse("stock:who-gets-which")).content.decode())
    assert found.headline in page
    assert f"Assign {other}" in page


def test_who_gets_nothing_is_offered_the_list_to_buy(waits, client_as):
    item = waits()
    page = client_as().get(reverse("stock:who-gets-which")).content.decode()
    assert reverse("stock:raise-need", args=[str(item)]) in page


def test_the_suggestion_costs_the_same_for_few_or_many(make, waits):
    def cost():
        with CaptureQueriesContext(connection) as ran:
            who_gets_which()
        return len(ran)

    def more(number):
        for _ in range(number):
            waits()
            make.part("controller board", board_number="PB-2210")

    make.family("Minnow", aliases=[("", "PL500")])
    more(2)
    few = cost()
    more(4)
    assert cost() == few


def test_what_is_reserved_is_not_suggested_to_others(make, noon, by, waits):
    from datetime import timedelta

    from django.utils import timezone

    waits()
    part, kept_for = make.part("controller board", board_number="PB-2210"), make.item(board_number="PB-2210")
    until = timezone.now() + timedelta(days=1)
    actions.reserve_part(part=part, patient=kept_for, until=until, by=by, happened=noon)
    assert [line.part for line in who_gets_which().lines] == [None]


# --- a board and a faulty preamplifier ------------------------------------------------------------------------------


def test_a_board_is_not_fitted_past_a_faulty_preamplifier_without_an_answer(make, noon, by, waits):
    item, part = waits(faults=["board", "preamplifier"]), make.part("controller board", board_number="PB-2210")
    with pytest.raises(actions.AskedFirst, match="a short in it also kills a donor board"):
        actions.assign_donor(part=part, patient=item, by=by, happened=noon)
    made = actions.assign_donor(part=part, patient=item, by=by, happened=noon, answered="4.2 ohm to ground: no short.")
    assert made.answered == "4.2 ohm to ground: no short."


def test_heads_are_fitted_without_that_question(make, noon, by, waits):
    item = waits(faults=["preamplifier"])
    made = actions.assign_donor(part=make.part(), patient=item, by=by, happened=noon, answered="not asked")
    assert made.answered == ""


def test_the_page_asks_and_keeps_the_answer(make, waits, client_as):
    item, part = waits(faults=["preamplifier"]), make.part("controller board", board_number="PB-2210")
    client, address = client_as(), reverse("stock:assign-donor", args=[str(item)])
    assert "kills a donor board" in client.get(address).content.decode()
    assert client.post(address, {"chosen": str(part)}).status_code == 422
    assert client.post(address, {"chosen": str(part), "answered": "No short."}).status_code == 303
    assert PartAssignment.objects.get().answered == "No short."


def test_the_part_page_says_what_came_of_each_use(make, noon, by, client_as):
    made = used(make, noon, by, "failed")
    page = client_as().get(made.part.get_absolute_url()).content.decode()
    assert "failed" in page
    assert "Seen." in page
