"""Taking a drive in: what comes out of the one verb of the counter."""

from __future__ import annotations

import pytest

from labcases.cases.actions import NothingToTakeIn, log_drive
from labcases.cases.intake import NewItem, Told
from labcases.cases.models import Case
from labcases.core.refused import NotAllowed
from labcases.custody.models import Event
from labcases.lab.models import Place
from labcases.lab.roles import Role


def test_a_drive_is_logged_with_its_code_and_its_stage(make, noon):
    case = make.case()
    item = case.items.get()
    assert str(case).startswith("26-00001-")
    assert str(item).startswith("26-00001-P1-")
    assert item.stage == "received"


def test_every_thing_goes_from_the_bearers_hands_to_the_counter(make, noon):
    counter = make.place(kind=Place.Kind.COUNTER)
    bearer = make.party(name="T. Arkwell")
    case = make.case(items=2, bearer=bearer, accessories=[("USB cable", 1)])
    things = [item.thing for item in case.items.all()] + [a.thing for a in case.accessories.all()]
    assert [thing.place for thing in things] == [counter] * 3
    received = Event.objects.filter(kind="received", case_code=case.code)
    assert received.count() == 3
    assert all(f"party:{bearer.ref}" in bytes(event.body).decode() for event in received)


def test_a_finished_intake_says_so_and_an_unfinished_one_says_what_is_missing(make, noon):
    from labcases.cases.queries import still_missing

    assert make.case().intake_finished
    short = make.case(items=[make.new_item(behaviours=[])], told=Told(), signed=None)
    assert short.intake_finished is None
    assert still_missing(short) == ["behaviour", "story", "wanted", "terms signed"]


def test_an_intake_needs_an_item(make, noon):
    with pytest.raises(NothingToTakeIn):
        log_drive(owner=make.party(), items=[], by=make.actor(Role.COUNTER), happened=noon)
    assert not Case.objects.exists()


def test_an_engineer_does_not_take_in(make, noon):
    with pytest.raises(NotAllowed):
        log_drive(owner=make.party(), items=[NewItem(kind="stick")], by=make.actor(Role.ENGINEER), happened=noon)
    assert not Event.objects.exists()


def test_numbers_follow_each_other_within_the_year(make, noon):
    first, second = make.case(), make.case()
    assert [str(case)[:8] for case in (first, second)] == ["26-00001", "26-00002"]
