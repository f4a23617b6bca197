"""A parcel that was posted: one press says that all of it has arrived, an event for each of its things."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from labcases.cases.models import Case
from labcases.core.refused import NotAllowed
from labcases.custody.models import Break, Event, EventText
from labcases.custody.noting.actions import confirm_delivery, ship, take_back
from labcases.handover.actions import carriers, due_back, hand_over
from labcases.handover.models import Handover
from labcases.handover.parcels.actions import NothingOnItsWay, TooEarly, parcel_arrived
from labcases.handover.parcels.queries import on_their_way, parcels_of, still_waiting
from labcases.handover.queries import section_of
from labcases.lab.roles import Role


@pytest.fixture
def case(make):
    """Ready and paid: a patient, its cable and a delivery medium."""
    made = make.case(accessories=[("USB cable", 1)])
    make.delivery(made.items.get())
    return make.paid(make.worked(made))


@pytest.fixture
def send(make, noon):
    def run(case: Case, **about: Any) -> Handover:
        posted = {"manner": "posted", "carrier": "Grey Goose Post", "tracking": "TR-0001", "proof": "tracked"}
        return hand_over(
            case=case, fates={thing.code: "out" for thing in due_back(case)}, collector_name="Orrin Vale",
            deliveries=[medium.thing for medium in carriers(case)], by=make.everyone(), happened=noon,
            **{**posted, **about},
        )  # fmt: skip

    return run


def arrivals() -> list[tuple[str, str]]:
    """Thing and receiver of every arrival, in the order of the ledger."""
    events = Event.objects.filter(kind="delivered").order_by("sequence")
    said = dict(EventText.objects.filter(field="receiver").values_list("sequence", "text"))
    return [(event.thing_code, said[event.sequence]) for event in events]


def test_one_press_confirms_the_whole_parcel_with_an_event_for_each_thing(send, case, make, noon):
    made = send(case)
    sent = [line.thing for line in made.lines.all()]
    assert len(sent) == 3
    parcel_arrived(
        handover=made, receiver="Orrin Vale, by phone", by=make.everyone(), happened=noon + timedelta(days=2)
    )
    assert sorted(arrivals()) == sorted((thing.code, "Orrin Vale, by phone") for thing in sent)
    assert set(Event.objects.filter(kind="delivered").values_list("case_code", flat=True)) == {case.code}
    assert not Break.objects.exists()


def test_what_was_confirmed_or_came_back_by_itself_is_left_as_it_is(send, case, make, noon):
    made, by, later = send(case), make.everyone(), noon + timedelta(days=2)
    first, second, third = (line.thing for line in made.lines.all())
    confirm_delivery(thing=first, receiver="a neighbour", by=by, happened=later)
    take_back(thing=second, to=make.place(), because="The bag was torn.", by=by, happened=later)
    parcel_arrived(handover=made, receiver="Orrin Vale", by=by, happened=later)
    assert arrivals() == [(first.code, "a neighbour"), (third.code, "Orrin Vale")]


def test_it_arrives_once(send, case, make, noon):
    made, later = send(case), noon + timedelta(days=2)
    parcel_arrived(handover=made, receiver="Orrin Vale", by=make.everyone(), happened=later)
    with pytest.raises(NothingOnItsWay):
        parcel_arrived(handover=made, receiver="Orrin Vale", by=make.everyone(), happened=later)
    assert len(arrivals()) == 3


def test_a_second_parcel_of_the_same_thing_is_not_confirmed_with_the_first(send, case, make, noon):
    """Sent, back unopened, sent again by hand: the first handover has nothing on its way any more."""
    made, by = send(case), make.everyone()
    for line in made.lines.all():
        take_back(thing=line.thing, to=make.place(), because="Nobody was in.", by=by, happened=noon + timedelta(days=3))
        about = {"party": case.owner, "carrier": "Grey Goose Post", "by": by, "happened": noon + timedelta(days=4)}
        ship(thing=line.thing, **about)
    assert parcels_of([made])[made.pk].waiting == []


def test_what_was_collected_is_in_no_parcel(send, case, make, noon):
    made = send(case, manner="collected", carrier="", tracking="", proof="known", signed_how="paper")
    assert parcels_of([made]) == {}
    with pytest.raises(NothingOnItsWay, match="on its way"):
        parcel_arrived(handover=made, receiver="x", by=make.everyone(), happened=noon)


def test_nothing_arrives_before_it_was_sent(send, case, make, noon):
    made = send(case)
    with pytest.raises(TooEarly):
        parcel_arrived(handover=made, receiver="x", by=make.everyone(), happened=noon - timedelta(hours=1))
    assert arrivals() == []


def test_who_only_looks_confirms_nothing(send, case, make, noon):
    with pytest.raises(NotAllowed):
        parcel_arrived(handover=send(case), receiver="x", by=make.actor(Role.AUDITOR), happened=noon)


def test_the_docket_says_that_it_is_on_its_way_and_then_who_says_that_it_came(send, case, client_as):
    made, client = send(case), client_as(Role.COUNTER)
    page = reverse("handover:parcel", args=[str(case), made.number])
    reports = reverse("handover:report", args=[str(case)])
    before = client.get(reports).content.decode()
    assert "on its way" in before
    assert page in before
    assert "Orrin Vale" in client.get(page).content.decode()
    answer = client.post(page, {"receiver": "Orrin Vale, by mail"})
    assert (answer.status_code, answer.url) == (303, reports)
    after = " ".join(client.get(reports).content.decode().split())
    assert "says Orrin Vale, by mail." in after
    assert page not in after
    assert "Nothing of it is on its way" in client.get(page).content.decode()


def test_a_press_without_a_word_of_who_says_so_is_refused(send, case, client_as):
    made = send(case)
    answer = client_as(Role.COUNTER).post(reverse("handover:parcel", args=[str(case), made.number]), {"receiver": ""})
    assert answer.status_code == 422
    assert arrivals() == []


def test_there_is_no_parcel_of_what_was_collected(send, case, client_as):
    made = send(case, manner="collected", carrier="", tracking="", proof="known", signed_how="paper")
    assert client_as(Role.COUNTER).get(reverse("handover:parcel", args=[str(case), made.number])).status_code == 404


def test_parcels_cost_the_same_queries_however_many_things(send, make, case):
    def cost(one: Case) -> int:
        with CaptureQueriesContext(connection) as ran:
            section_of(one)
        return len(ran)

    many = make.paid(make.worked(make.case(accessories=[(f"cable {n}", 1) for n in range(9)])))
    for one in (case, many):
        made = send(one)
        parcel_arrived(handover=made, receiver="x", by=make.everyone(), happened=timezone.now())
    assert cost(case) == cost(many)


def on_the_counter(client) -> str:
    page = client.get("/counter/").content.decode()
    return " ".join(page[page.index('id="on-their-way"') :].partition("</section>")[0].split())


def test_the_counter_lists_what_is_on_its_way_until_all_of_it_has_arrived(send, case, make, noon, client_as):
    client, later = client_as(Role.COUNTER), noon + timedelta(days=2)
    assert "No parcel of ours is on its way" in on_the_counter(client)
    made = send(case)
    door = reverse("handover:parcel", args=[str(case), made.number])
    for words in (str(case), "Orrin Vale", "Grey Goose Post", "TR-0001", "2 Mar", "3 things", door):
        assert words in on_the_counter(client)
    assert door not in on_the_counter(client_as(Role.AUDITOR))
    confirm_delivery(thing=made.lines.first().thing, receiver="a neighbour", by=make.everyone(), happened=later)
    assert "2 things" in on_the_counter(client)
    assert "1 arrived" in on_the_counter(client)
    parcel_arrived(handover=made, receiver="Orrin Vale", by=make.everyone(), happened=later)
    assert "No parcel of ours is on its way" in on_the_counter(client)


@pytest.mark.parametrize("then", ["nothing", "arrives", "one arrives", "comes back", "goes again", "collected"])
def test_the_list_of_the_counter_agrees_with_the_page_of_each_parcel(send, case, make, noon, then):
    """The database's question and the walk along each line are two ways to the same answer."""
    by, later = make.everyone(), noon + timedelta(days=2)
    about = {"manner": "collected", "carrier": "", "tracking": "", "proof": "known", "signed_how": "paper"}
    made = send(case, **(about if then == "collected" else {}))
    things = [line.thing for line in made.lines.all()]
    if then == "arrives":
        parcel_arrived(handover=made, receiver="x", by=by, happened=later)
    elif then == "one arrives":
        confirm_delivery(thing=things[0], receiver="x", by=by, happened=later)
    for thing in things if then in ("comes back", "goes again") else ():
        take_back(thing=thing, to=make.place(), because="Nobody was in.", by=by, happened=later)
        if then == "goes again":
            ship(thing=thing, party=case.owner, carrier="Grey Goose Post", by=by, happened=later + timedelta(days=1))
    parcel = parcels_of([Handover.objects.get()]).get(made.pk)
    waits = bool(parcel and parcel.waiting)
    assert waits == (then in ("nothing", "one arrives"))
    assert still_waiting().exists() == waits
    assert [one.pk for one, _ in on_their_way(None).rows] == [made.pk] * waits


def test_the_list_of_the_counter_costs_the_same_queries_however_many_parcels(send, make, case):
    def cost() -> int:
        with CaptureQueriesContext(connection) as ran:
            rows = on_their_way(None).rows
        assert rows
        return len(ran)

    send(case)
    few = cost()
    for _ in range(3):
        send(make.paid(make.worked(make.case(accessories=[("cable", 1)]))))
    assert cost() == few


def test_a_long_list_of_the_counter_says_that_there_are_more(send, case, make, client_as, monkeypatch):
    monkeypatch.setattr("labcases.handover.parcels.queries.SHOWN", 1)
    send(case)
    assert "behind these" not in on_the_counter(client_as(Role.COUNTER))
    send(make.paid(make.worked(make.case())), tracking="TR-0002")
    page = on_the_counter(client_as(Role.COUNTER))
    assert ("TR-0001" in page, "TR-0002" in page, "behind these" in page) == (True, False, True)
