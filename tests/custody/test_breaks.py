"""Breaks are found as events are appended, kept with the thing, walked through at night, and answered by a manager."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from labcases.core.refused import NotAllowed
from labcases.custody.actions import move, record, recorded
from labcases.custody.breaks.actions import recheck_lines
from labcases.custody.models import Break, Event, Thing, Whereabouts
from labcases.custody.noting.actions import break_seal, correct
from labcases.lab.roles import Role


@recorded
def note(kind, thing, by, happened, **about):
    return record(kind, thing=thing, by=by, happened=happened, **about)


@pytest.fixture
def broken(make, noon):
    """A thing of which a seal was broken that nobody had put on."""
    thing = make.item().thing
    break_seal(thing=thing, seals=["S-404"], because="to open the bag", by=make.everyone(), happened=noon)
    thing.refresh_from_db()
    return thing


def test_a_whole_line_keeps_no_break(make, noon):
    thing = make.item().thing
    move(thing=thing, to=make.place(), by=make.everyone(), happened=noon + timedelta(minutes=1))
    assert (thing.breaks_open, thing.worst_break, Break.objects.count()) == (0, "", 0)


def test_a_break_is_kept_with_its_event_and_counted_on_the_thing(broken):
    row = Break.objects.get()
    assert (row.event, row.kind, row.grade, row.detail) == (broken.last_event, "seal unknown", "to explain", "S-404")
    fresh = Thing.objects.get(pk=broken.pk)
    assert (fresh.breaks_open, fresh.worst_break) == (1, "to explain")
    assert "S-404" in row.sentence


def test_a_thing_found_elsewhere_is_a_gap_in_its_line(make, noon):
    thing, shelf = make.item().thing, make.place()
    at = Whereabouts(place=shelf)
    note("found", thing, make.everyone(), noon, was=at, to=at)
    assert Break.objects.get().kind == "gap"
    assert Thing.objects.get(pk=thing.pk).place == shelf


def test_judging_reads_no_earlier_event(make, noon):
    thing, by = make.item().thing, make.everyone()

    def cost():
        with CaptureQueriesContext(connection) as ran:
            note("work-noted", thing, by, noon)
        asked = [q["sql"] for q in ran if "custody_treenode" not in q["sql"]]  # their number is the tree's own matter
        return len(asked), [sql for sql in asked if 'FROM "custody_event"' in sql]

    first = cost()
    for _ in range(30):
        note("work-noted", thing, by, noon)
    assert cost() == first
    assert first[1] == []


def test_a_line_from_before_lines_were_kept_is_walked_through_once(make, noon):
    thing = make.item().thing
    Thing.objects.filter(pk=thing.pk).update(line={})
    note("power-ended", thing, make.everyone(), noon)
    assert [row.kind for row in Break.objects.all()] == ["power unknown"]
    assert Thing.objects.get(pk=thing.pk).line["been_in"]


def test_a_manager_answers_a_break_and_it_is_shown_as_answered(make, noon, broken):
    by = make.actor(Role.MANAGER)
    event = Event.objects.get(pk=Break.objects.get().event)
    answer = correct(event=event, because="The customer had sealed the bag.", by=by, happened=noon)
    row = Break.objects.get()
    assert row.answered == answer.sequence
    assert Thing.objects.get(pk=broken.pk).breaks_open == 0


def test_an_engineers_correction_of_his_own_event_leaves_the_break_open(make, noon):
    thing, by = make.item().thing, make.actor(Role.ENGINEER)
    event = break_seal(thing=thing, seals=["S-1"], because="to open it", by=by, happened=noon)
    correct(event=event, because="It was S-2.", by=by, happened=noon)
    assert Break.objects.get().answered is None


def test_somebody_elses_event_is_corrected_by_a_manager_only(make, noon, broken):
    event = Event.objects.get(pk=broken.last_event)
    with pytest.raises(NotAllowed):
        correct(event=event, because="no", by=make.actor(Role.ENGINEER), happened=noon)


# --- every night ---


def test_the_nightly_walk_finds_lines_as_they_were_judged(make, noon, broken):
    make.worked(make.case(items=2))
    check = recheck_lines()
    assert (check.put_right, check.beside) == (0, 0)
    assert check.things == Event.objects.exclude(thing_code="").values("thing_code").distinct().count()


def test_the_nightly_walk_puts_back_a_break_that_was_taken_away(broken):
    Break.objects.all().delete()
    Thing.objects.filter(pk=broken.pk).update(breaks_open=0, worst_break="")
    assert recheck_lines().put_right == 1
    assert Break.objects.get().kind == "seal unknown"
    assert Thing.objects.get(pk=broken.pk).breaks_open == 1


def test_a_thing_moved_past_the_ledger_is_found_at_night_and_once(make):
    thing = make.item().thing
    Thing.objects.filter(pk=thing.pk).update(place=make.place(), staff=None, party=None)
    assert recheck_lines().beside == 1
    recheck_lines()
    assert [row.kind for row in Break.objects.all()] == ["beside the ledger"]


# --- pages ---


def test_the_front_of_custody_counts_open_breaks_and_leads_to_them(client_as, broken):
    page = client_as(Role.ENGINEER).get(reverse("docket:custody")).content.decode()
    assert "?grade=to%20explain&amp;state=open" in page


def test_the_list_of_things_is_narrowed_to_those_with_breaks(make, client_as, broken):
    whole = make.item().thing
    client = client_as(Role.AUDITOR)
    for how, there in (("open", True), ("to explain", True), ("grave", False), ("answered", False), ("whole", False)):
        page = client.get(reverse("custody:things"), {"breaks": how}).content.decode()
        assert (broken.printed_code in page) is there, how
        assert (whole.printed_code in page) is (how == "whole"), how


def test_breaks_are_exported(client_as, broken):
    answer = client_as(Role.AUDITOR).get(reverse("custody:breaks"), {"format": "csv"})
    rows = b"".join(answer.streaming_content).decode().splitlines()
    assert rows[0].startswith("thing,what,event")
    assert broken.printed_code in rows[1]


def test_the_page_of_a_break_answers_it(client_as, broken):
    row = Break.objects.get()
    client = client_as(Role.MANAGER)
    sent = client.post(row.get_absolute_url(), {"because": "It came sealed from the carrier."})
    assert sent.status_code == 303, sent.content.decode()
    assert "It came sealed from the carrier." in client.get(row.get_absolute_url()).content.decode()


def test_an_engineer_sees_a_break_and_does_not_answer_it(client_as, broken):
    client, address = client_as(Role.ENGINEER), Break.objects.get().get_absolute_url()
    assert "Answer the break" not in client.get(address).content.decode()
    assert client.post(address, {"because": "no"}).status_code == 403


def test_the_page_of_a_thing_shows_the_break_at_its_event(client_as, broken):
    page = client_as(Role.ENGINEER).get(reverse("custody:thing", args=[str(broken)])).content.decode()
    assert page.count("Seal S-404 was broken, and nothing says that it was put on.") == 2
