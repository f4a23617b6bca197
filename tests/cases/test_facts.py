"""Facts come from every room, in a fixed number of queries, and only under the names that are declared."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from labcases.cases import facts
from labcases.cases.queries import facts_for
from labcases.cases.stages import Stage


def cost(items) -> int:
    with CaptureQueriesContext(connection) as ran:
        known = facts_for(items)
    assert len(known) == len(items)
    return len(ran)


def test_facts_cost_the_same_for_one_item_and_for_thirty(make):
    one, thirty = make.case(items=1), make.case(items=30)
    assert cost(list(thirty.items.all())) == cost(list(one.items.all()))


def test_facts_of_nothing_are_none(make):
    assert facts_for([]) == {}


def test_facts_are_read_now_and_not_from_the_callers_copy(make):
    item = make.item()
    item.stage = Stage.READY
    item.case.may_examine = False
    known = facts_for([item])[item.pk]
    assert known.stage is Stage.RECEIVED
    assert known.may_examine


@pytest.mark.parametrize("room", ["cases", "bench", "stock", "office", "updates"])
def test_each_room_that_decides_a_step_has_its_provider(room):
    assert room in facts.PROVIDERS


def test_a_fact_that_nobody_declared_is_refused(make, monkeypatch):
    item = make.item()
    monkeypatch.setitem(facts.PROVIDERS, "gossip", lambda items: {item.pk: {"mood": "fair"}})
    with pytest.raises(ValueError, match="room gossip speaks of undeclared facts: mood"):
        facts_for([item])


def test_what_no_room_says_stays_as_it_is_declared(make, monkeypatch):
    item = make.item()
    monkeypatch.setattr(facts, "PROVIDERS", {})
    assert facts.gather([item]) == {item.pk: facts.Facts()}


def test_what_was_told_of_a_disk_is_a_fact_that_forbids_power(make):
    item = make.item(behaviours=["clicks"], marks=["screws"])
    assert facts_for([item])[item.pk].no_power_because == ("it clicks", "its screws are marked")


def test_a_thing_with_a_colleague_is_in_the_lab_and_one_with_its_owner_is_not(make):
    here, away = make.item(), make.expected().items.get()
    known = facts_for([here, away])
    assert (known[here.pk].in_the_lab, known[away.pk].in_the_lab) == (True, False)
