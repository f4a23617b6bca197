"""The lab's own records: log with due days, competence, work that went wrong (leftovers of ISO/IEC 17025)."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from labcases.bench.records import actions, queries
from labcases.bench.records.models import CLASS_5, Competence, LogLine, Mishap
from labcases.bench.stations.actions import keep_equipment
from labcases.core.refused import NotAllowed
from labcases.lab.roles import Role


@pytest.fixture
def bench(make, noon):
    return keep_equipment(name="Clean bench A", kind="clean bench", by=make.everyone(), happened=noon)


def test_the_newest_line_of_a_kind_says_what_is_due(make, noon, bench):
    by, today = make.everyone(), timezone.localdate()
    actions.log(equipment=bench, what="filter", next_due=today - timedelta(days=9), by=by, happened=noon)
    actions.log(equipment=bench, what="count", particles=900, next_due=today + timedelta(days=9), by=by, happened=noon)
    (row,) = queries.equipment_rows()
    assert [(due.what, due.overdue) for due in row.dues] == [("filter changed", True), ("particles counted", False)]
    actions.log(
        equipment=bench, what="filter", next_due=today + timedelta(days=90), by=by, happened=noon + timedelta(days=1)
    )
    assert not queries.equipment_rows()[0].overdue


@pytest.mark.parametrize(("counted", "too_many"), [(0, False), (3_520, False), (3_521, True), (None, False)])
def test_a_count_above_class_5_is_said(counted, too_many):
    # ISO 14644-1:2015, table 1: class 5 allows 3,520 particles of 0.5 µm and more a cubic metre (from memory).
    assert CLASS_5 == 3_520
    assert LogLine(what="count", particles=counted).too_many is too_many


def test_a_competence_is_followed_by_the_next_and_ended_by_a_manager(make, noon):
    person, manager = make.staff(), make.actor(Role.MANAGER)
    about = {"person": person, "work": "heads", "shown_by": "ten swaps under Ines", "by": manager}
    actions.note_competence(happened=noon, **about)
    second = actions.note_competence(happened=noon + timedelta(days=1), **about)
    assert list(Competence.objects.filter(ended=None)) == [second]
    actions.end_competence(competence=second, by=manager, happened=noon + timedelta(days=2))
    with pytest.raises(actions.AlreadyClosed):
        actions.end_competence(competence=second, by=manager, happened=noon)
    with pytest.raises(NotAllowed):
        actions.note_competence(happened=noon, **(about | {"by": make.actor(Role.ENGINEER)}))


def test_what_went_wrong_is_closed_once_by_a_manager(make, noon):
    found = actions.note_mishap(what="A cable was swapped.", by=make.actor(Role.ENGINEER), happened=noon)
    close = {"mishap": found, "why": "no label", "done": "cables are labelled", "happened": noon}
    with pytest.raises(NotAllowed):
        actions.close_mishap(by=make.actor(Role.ENGINEER), **close)
    assert actions.close_mishap(by=make.actor(Role.MANAGER), **close).closed
    with pytest.raises(actions.AlreadyClosed):
        actions.close_mishap(by=make.actor(Role.MANAGER), **close)


def test_a_complaint_is_noted_at_the_counter_and_stands_with_its_item(make, noon, client_as):
    make.profile()
    item, counter = make.item(), client_as(Role.COUNTER)
    said = {"what": "She waited nine days for a word.", "code": str(item)}
    assert client_as(Role.AUDITOR).post("/bench/went-wrong/new/", said | {"kind": "complaint"}).status_code == 403
    assert counter.post("/bench/went-wrong/new/", said | {"kind": "complaint"}).status_code == 303
    assert Mishap.objects.get().kind == "complaint"
    assert "<strong>Complaint:</strong>" in counter.get(item.case.get_absolute_url()).content.decode()
    actions.note_mishap(what="A cable was swapped.", by=make.actor(Role.ENGINEER), happened=noon)
    listed = counter.get("/bench/went-wrong/?kind=complaint").content.decode()
    assert "nine days" in listed
    assert "A cable" not in listed


def test_the_pages_of_the_records(make, noon, bench, client_as):
    client, item = client_as(), make.item()
    past = (timezone.localdate() - timedelta(days=1)).isoformat()
    log = f"/bench/equipment/{bench.pk}/log/"
    assert client.post(log, {"what": "count"}).status_code == 422
    assert client.post(log, {"what": "count", "particles": "4 000", "next_due": past}).status_code == 303
    page = client.get(f"/bench/equipment/{bench.pk}/").content.decode()
    assert "above class 5" in page
    assert "Overdue" in page
    assert "overdue" in client.get("/bench/equipment/").content.decode()
    assert "overdue" in client.get("/bench/").content.decode()
    assert b"4000" in b"".join(client.get(f"/bench/equipment/{bench.pk}/?format=csv"))
    person = make.staff(name="Ada Marsh")
    said = {"person": person.pk, "work": "heads", "shown_by": "ten swaps", "look_again": past}
    assert client.post("/bench/competence/new/", said).status_code == 303
    assert "Ada Marsh" in client.get("/bench/competence/").content.decode()
    assert client.post(f"/bench/competence/{Competence.objects.get().pk}/end/", {}).status_code == 303
    assert client.post("/bench/went-wrong/new/", {"what": "x", "code": "26-1", "kind": "went wrong"}).status_code == 422
    assert (
        client.post("/bench/went-wrong/new/", {"what": "A cable.", "code": str(item), "kind": "went wrong"}).status_code
        == 303
    )
    found = Mishap.objects.get()
    assert found.item == item
    assert client.post(f"/bench/went-wrong/{found.pk}/", {"why": "no label", "done": "labelled"}).status_code == 303
    assert "labelled" in client.get(f"/bench/went-wrong/{found.pk}/").content.decode()
    for address in ("/bench/equipment/", "/bench/competence/", "/bench/went-wrong/"):
        assert client.get(f"{address}?format=csv").status_code == 200
    assert client.post("/bench/equipment/new/", {"name": "Clean bench A", "kind": "meter"}).status_code == 422
    assert client.post("/bench/equipment/new/", {"name": "Meter", "kind": "meter"}).status_code == 303
