"""Stations: which patient has power where, who looks at it, and what ran when the power went."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError
from django.urls import reverse

from labcases.bench.protocols.actions import NotInThisOrder
from labcases.bench.stations import actions, queries
from labcases.bench.stations.models import Port, Session
from labcases.core.refused import NotAllowed, Refused
from labcases.custody.models import Event, EventText, Thing
from labcases.custody.noting.actions import begin_power, end_power
from labcases.lab.roles import Role


@pytest.fixture
def ports(make, noon) -> list[Port]:
    machine = actions.keep_equipment(
        name="Bench 1", kind="machine", ports=["left", "right", "left"], by=make.everyone(), happened=noon
    )
    return list(machine.ports.all())


def begun(make, noon, port, item=None, **about) -> Session:
    about = {"by": make.everyone(), "happened": noon} | about
    return actions.begin(port=port, item=item or make.item(), **about)


def test_a_port_runs_one_patient_and_a_patient_on_one_port(make, noon, ports):
    session = begun(make, noon, ports[0], doing="first pass")
    assert [port.name for port in ports] == ["left", "right"]
    with pytest.raises(IntegrityError):
        begun(make, noon, ports[0])
    with pytest.raises(IntegrityError):
        begun(make, noon, ports[1], session.item)


def test_what_has_ended_frees_port_and_patient_and_keeps_people_apart_from_machines(make, noon, ports):
    session, later = begun(make, noon, ports[0]), noon + timedelta(hours=26, minutes=5)
    ended = actions.end(session=session, ending="finished", hands_on=35, by=make.everyone(), happened=later)
    assert (ended.machine_words, ended.hands_on) == ("26 h 05 min", 35)
    with pytest.raises(actions.NotRunning):
        actions.end(session=session, ending="finished", by=make.everyone(), happened=later)
    again = begun(make, noon, ports[0], session.item, happened=later)
    assert again.pk
    kinds = list(
        Event.objects.filter(thing_code=session.item.thing.code).order_by("sequence").values_list("kind", flat=True)
    )
    assert kinds[-3:] == ["power-begun", "power-ended", "power-begun"]


def test_a_session_is_one_power_session_in_the_line_of_custody_with_station_and_port(make, noon, ports):
    session = begun(make, noon, ports[1], doing="first pass")
    event = Event.objects.get(kind="power-begun")
    words = dict(EventText.objects.filter(sequence=event.sequence).values_list("field", "text"))
    assert (words["station"], words["port"]) == (session.port.equipment.name, "right")
    assert Thing.objects.get(code=event.thing_code).is_powered
    actions.end(session=session, ending="finished", by=make.everyone(), happened=noon + timedelta(hours=1))
    thing = Thing.objects.get(code=event.thing_code)
    assert (thing.is_powered, thing.breaks_open) == (False, 0)


def test_the_end_that_was_noted_by_hand_is_no_second_one(make, noon, ports):
    session, by = begun(make, noon, ports[0]), make.everyone()
    end_power(thing=session.item.thing, by=by, happened=noon + timedelta(hours=1))
    actions.end(session=session, ending="stopped", by=by, happened=noon + timedelta(hours=1))
    assert Event.objects.filter(kind="power-ended").count() == 1
    assert Thing.objects.get(pk=session.item.thing_id).breaks_open == 0


def test_what_has_power_already_begins_no_second_session(make, noon, ports):
    item, by = make.item(), make.everyone()
    begin_power(thing=item.thing, station="Bench 9", by=by, happened=noon)
    with pytest.raises(Refused, match="has begun and not ended"):
        begun(make, noon, ports[0], item)
    assert not Session.objects.exists()


def test_nothing_ends_before_it_began(make, noon, ports):
    session = begun(make, noon, ports[0])
    with pytest.raises(actions.NotRunning, match="before it began"):
        actions.end(session=session, ending="finished", by=make.everyone(), happened=noon - timedelta(minutes=1))


def test_no_power_on_a_port_where_the_bench_order_forbids_it(make, noon, ports):
    with pytest.raises(NotInThisOrder):
        begun(make, noon, ports[0], make.item(behaviours=["clicks"]))
    assert not Session.objects.exists()


def test_after_a_power_cut_the_list_says_what_was_running(make, noon, ports):
    first, second = begun(make, noon, ports[0]), begun(make, noon, ports[1], happened=noon + timedelta(hours=2))
    actions.end(session=first, ending="power cut", by=make.everyone(), happened=noon + timedelta(hours=3))
    assert queries.ran_at(noon + timedelta(hours=1)) == [first]
    assert queries.ran_at(noon + timedelta(hours=2, minutes=30)) == [first, second]
    assert queries.ran_at(noon + timedelta(hours=4)) == [second]
    assert queries.ran_at(noon - timedelta(hours=1)) == []


def test_after_a_power_cut_all_that_ran_is_ended_with_one_press(make, noon, ports, client_as):
    first, second = begun(make, noon, ports[0]), begun(make, noon, ports[1])
    client = client_as(Role.ENGINEER)
    assert "/bench/stations/power-cut/" in client.get("/bench/stations/running/").content.decode()
    form = client.get("/bench/stations/power-cut/").context["form"]
    assert form["sessions"].value() == [first.pk, second.pk]
    assert client.post("/bench/stations/power-cut/", {}).status_code == 422
    assert client.post("/bench/stations/power-cut/", {"sessions": form["sessions"].value()}).status_code == 303
    assert [one.ending for one in Session.objects.all()] == ["power cut", "power cut"]
    assert Event.objects.filter(kind="power-ended").count() == 2


def test_only_engineers_switch_on(make, noon, ports):
    with pytest.raises(NotAllowed):
        begun(make, noon, ports[0], by=make.actor(Role.COUNTER))


def test_the_pages_of_the_stations(make, noon, ports, client_as):
    client, item = client_as(), make.item()
    sent = client.post(reverse("bench:begin-session", args=[str(item)]), {"port": ports[0].pk, "doing": "first pass"})
    assert sent.status_code == 303
    session = Session.objects.get()
    for address in ("/bench/stations/", "/bench/", "/bench/stations/running/"):
        page = client.get(address).content.decode()
        assert str(item) in page
        assert "first pass" in page
    assert str(item) in b"".join(client.get("/bench/stations/running/?format=csv")).decode()
    watcher = make.staff(name="Ada Marsh")
    assert client.post(f"/bench/stations/sessions/{session.pk}/watch/", {"watcher": watcher.pk}).status_code == 303
    assert "Ada Marsh" in client.get("/bench/stations/").content.decode()
    assert client.post(f"/bench/stations/sessions/{session.pk}/end/", {"ending": "finished"}).status_code == 303
    assert client.get(f"/bench/stations/sessions/{session.pk}/end/").status_code == 404
    taken = client.post(reverse("bench:begin-session", args=[str(item)]), {"port": "999"})
    assert taken.status_code == 422
