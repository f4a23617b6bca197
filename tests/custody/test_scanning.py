"""Scanning custody: things, then a place or badge; a shelf and all on it; hand-overs that both sides confirm."""

from __future__ import annotations

import pytest
from django.contrib.auth.hashers import identify_hasher
from django.urls import reverse

from labcases.core import codes
from labcases.core.refused import Refused
from labcases.custody.actions import NotConfirmed, move
from labcases.custody.models import AskedHandover, Break, CustodyRules, Event, EventText, StaffPin, Thing
from labcases.custody.scanning import actions, reading
from labcases.custody.scanning.queries import both_confirm
from labcases.lab.models import Actor
from labcases.lab.roles import Right, Role

SCAN = "/custody/scan/"


@pytest.fixture
def shelf(make):
    return make.place(name="Shelf A1")


@pytest.fixture
def both(make):
    """A lab of two or more in which both sides confirm, and who takes things over."""
    CustodyRules.objects.create(pk=1, both_confirm=True)
    taker = make.staff(roles=[Role.ENGINEER], name="Wren Halloran")
    actions.set_pin(pin="2580", by=taker.acting(Right.MOVE), happened=taker.joined)
    return taker


def symbols(*rows) -> str:
    return "\n".join(f"LC{row.code if hasattr(row, 'code') else row.badge}" for row in rows)


def where(thing) -> str:
    return str(Thing.objects.with_whereabouts().get(pk=thing.pk).whereabouts)


# --- reading ---


def test_what_cannot_be_read_is_said_and_the_rest_is_kept():
    good = codes.with_check("2600417P1")
    said = reading.read(f"{good} nonsense S00001X")
    assert said.things == (good,)
    assert len(said.wrong) == 2
    assert "nonsense" in said.wrong[0]


@pytest.mark.parametrize(
    ("order", "source", "target"),
    [("T S", "", "S"), ("S T", "S", ""), ("S R", "S", "R"), ("S T R", "S", "R"), ("T S R", "", "R"), ("S", "S", "")],
)
def test_the_first_place_is_where_they_lie_and_the_last_where_they_go(order, source, target):
    known = {"S": codes.with_check("S00001"), "R": codes.with_check("S00002"), "T": codes.with_check("2600417P1")}
    said = reading.read(" ".join(known[letter] for letter in order.split()))
    assert (said.source, said.target) == (known.get(source, ""), known.get(target, ""))


# --- doing ---


def test_many_things_go_to_a_place_in_one_go_one_event_each(make, client_as, shelf):
    things = [item.thing for item in make.case(items=3).items.all()]
    answer = client_as(Role.ENGINEER).post(SCAN, {"scanned": symbols(*things, shelf)})
    assert answer.status_code == 303, answer.content.decode()
    assert [where(thing) for thing in things] == ["Shelf A1"] * 3
    assert Event.objects.filter(kind="moved").count() == 3
    assert Break.objects.count() == 0


def test_a_shelf_and_all_that_lies_on_it_but_what_is_left_out(make, client_as, shelf, noon):
    things = [item.thing for item in make.case(items=3).items.all()]
    client, safe = client_as(Role.ENGINEER), make.place(name="Safe")
    client.post(SCAN, {"scanned": symbols(*things, shelf)})
    listed = client.get(SCAN, {"scanned": symbols(shelf)}, headers={"HX-Request": "true"}).content.decode()
    assert all(str(thing) in listed for thing in things)
    client.post(SCAN, {"scanned": symbols(shelf, safe), "leave": [things[0].code]})
    assert [where(thing) for thing in things] == ["Shelf A1", "Safe", "Safe"]


def test_the_shelf_first_and_last_takes_in_what_was_scanned_between(make, client_as, shelf):
    first, second = (item.thing for item in make.case(items=2).items.all())
    client = client_as(Role.ENGINEER)
    client.post(SCAN, {"scanned": symbols(first, shelf)})
    client.post(SCAN, {"scanned": symbols(shelf, second, shelf)})
    assert where(second) == "Shelf A1"
    assert Event.objects.filter(kind="moved", thing_code=first.code).count() == 1


def test_a_scanned_badge_hands_to_its_person(make, client_as):
    thing, person = make.item().thing, make.staff(name="Wren Halloran")
    client_as(Role.COUNTER).post(SCAN, {"scanned": symbols(thing, person)})
    assert where(thing) == "Wren Halloran"
    assert Event.objects.latest("sequence").kind == "handed-to"


@pytest.mark.parametrize(
    ("scanned", "said"),
    [
        ("{thing} LCS00099{check}", "There is no place"),
        ("{thing}", "Say where they go"),
        ("{shelf}", "Nothing was scanned that could go anywhere"),
        ("{thing} what {shelf}", "does not have the form of a code"),
        ("D00077{d} {shelf}", "Nothing carries the code"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_lost(make, client_as, shelf, scanned, said):
    thing = make.item().thing
    check, d = codes.check_character("S00099"), codes.check_character("D00077")
    text = scanned.format(thing=thing, shelf=shelf.code, check=check, d=d)
    answer = client_as(Role.ENGINEER).post(SCAN, {"scanned": text})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert said in page
    assert text.split()[0] in page
    assert not Event.objects.filter(kind="moved").exists()


def test_looking_up_costs_the_same_for_one_thing_or_thirty(make, client_as, shelf, django_assert_num_queries):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    client = client_as(Role.ENGINEER)

    def cost(things):
        with CaptureQueriesContext(connection) as ran:
            client.get(SCAN, {"scanned": symbols(*things, shelf)}, headers={"HX-Request": "true"})
        return len(ran)

    things = [item.thing for item in make.case(items=12).items.all()]
    cost(things[:1])
    assert cost(things[:1]) == cost(things)


def test_the_auditor_scans_nothing(make, client_as, shelf):
    thing, client = make.item().thing, client_as(Role.AUDITOR)
    assert client.get(SCAN).status_code == 200
    assert client.post(SCAN, {"scanned": symbols(thing, shelf)}).status_code == 403


# --- both confirm ---


def test_where_one_works_alone_nobody_else_is_asked(make):
    CustodyRules.objects.create(pk=1, both_confirm=True)
    make.staff(roles=[Role.ENGINEER])
    make.staff(roles=[Role.AUDITOR])
    assert not both_confirm()
    make.staff(roles=[Role.COUNTER])
    assert both_confirm()


def test_a_pin_confirms_and_the_event_says_so(make, client_as, both):
    thing = make.item().thing
    answer = client_as(Role.COUNTER).post(SCAN, {"scanned": symbols(thing, both), "pin": "2580"})
    assert answer.status_code == 303, answer.content.decode()
    assert where(thing) == "Wren Halloran"
    assert EventText.objects.get(field="confirmed").text == "Wren Halloran, with a PIN"


def test_a_wrong_pin_moves_nothing_and_six_of_them_have_to_wait(make, client_as, both):
    thing, client = make.item().thing, client_as(Role.COUNTER)
    for _ in range(6):
        answer = client.post(SCAN, {"scanned": symbols(thing, both), "pin": "0000"})
        assert "not the PIN of Wren Halloran" in answer.content.decode()
    answer = client.post(SCAN, {"scanned": symbols(thing, both), "pin": "2580"})
    assert "Too many wrong PINs" in answer.content.decode()
    assert where(thing) != "Wren Halloran"


def test_without_a_pin_it_is_asked_on_the_others_own_pages(make, client_as, client, both):
    thing = make.item().thing
    before = where(thing)
    client_as(Role.COUNTER).post(SCAN, {"scanned": symbols(thing, both), "because": "for the heads"})
    asked = AskedHandover.objects.get()
    assert where(thing) == before
    client.force_login(both)
    assert asked.get_absolute_url() in client.get(reverse("docket:custody")).content.decode()
    assert "take them over" in client.get(asked.get_absolute_url()).content.decode()
    client.post(reverse("custody:take", args=[asked.pk]))
    assert where(thing) == "Wren Halloran"
    assert "on a page of their own; handed by" in EventText.objects.get(field="confirmed").text
    assert Break.objects.count() == 0


def test_what_is_refused_stays_and_says_why(make, client_as, client, both):
    thing = make.item().thing
    before = where(thing)
    client_as(Role.COUNTER).post(SCAN, {"scanned": symbols(thing, both)})
    asked = AskedHandover.objects.get()
    client.force_login(both)
    client.post(reverse("custody:refuse", args=[asked.pk]), {"because": "not my case"})
    asked.refresh_from_db()
    assert (asked.state, asked.said, where(thing)) == ("refused", "not my case", before)
    client.post(reverse("custody:take", args=[asked.pk]))
    assert where(thing) == before


def test_nobody_takes_over_for_somebody_else(make, client_as, both):
    client_as(Role.COUNTER).post(SCAN, {"scanned": symbols(make.item().thing, both)})
    asked = AskedHandover.objects.get()
    page = client_as(Role.ENGINEER).post(reverse("custody:take", args=[asked.pk]), follow=True).content.decode()
    assert "This waits for Wren Halloran." in page
    assert AskedHandover.objects.get().state == "asked"


def test_what_moved_since_it_was_asked_is_not_taken(make, both, shelf):
    from django.utils import timezone

    thing, by = make.item().thing, make.everyone()
    asked = actions.ask(things=[thing], to=both, by=by, happened=timezone.now())
    move(thing=thing, to=shelf, by=by, happened=timezone.now())
    with pytest.raises(actions.Answered, match="Moved since"):
        actions.take(asked=asked, by=Actor(both, Role.ENGINEER), happened=timezone.now())
    assert AskedHandover.objects.get().state == "asked"


def test_no_other_door_hands_over_without_the_others_word(make, both, client_as, noon):
    thing, by = make.item().thing, make.actor(Role.COUNTER)
    with pytest.raises(NotConfirmed):
        move(thing=thing, to=both, by=by, happened=noon)
    client_as(Role.COUNTER).post(reverse("custody:move"), {"things": str(thing), "staff": both.pk})
    assert AskedHandover.objects.get().to == both


def test_nothing_is_taken_out_of_a_colleagues_hands(make, both, noon):
    thing, by = make.item().thing, make.actor(Role.COUNTER)
    move(thing=thing, to=both, by=by, happened=noon, confirmed="Wren Halloran, with a PIN")
    with pytest.raises(NotConfirmed, match="in the hands of Wren Halloran"):
        move(thing=thing, to=by.staff, by=by, happened=noon)


# --- PINs, badges, rules ---


def test_a_pin_is_kept_as_passwords_are(both):
    kept = StaffPin.objects.get()
    assert "2580" not in kept.digest
    assert identify_hasher(kept.digest)


@pytest.mark.parametrize("pin", ["123", "1111", "1234", "9876", "12a4", "1234567890123", "१२३५"])
def test_a_pin_is_no_plain_row(make, noon, pin):
    with pytest.raises(Refused):
        actions.set_pin(pin=pin, by=make.everyone(), happened=noon)


def test_a_pin_is_set_with_the_password(make, client_as):
    client = client_as(Role.ENGINEER)
    sent = {"password": "wrong", "pin": "2580", "again": "2580"}
    assert "not your password" in client.post("/custody/pin/", sent).content.decode()
    assert client.post("/custody/pin/", sent | {"password": "correct horse battery"}).status_code == 303
    assert StaffPin.objects.count() == 1


def test_badges_and_places_are_printed(make, client_as, shelf):
    person = make.staff()
    sent = {"people": [person.pk], "places": [shelf.pk], "size": "a4-3x8", "first": "1"}
    answer = client_as(Role.MANAGER).post("/custody/badges/", sent)
    assert answer["Content-Type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")


def test_a_badge_is_a_code_of_this_lab(make):
    person = make.staff()
    assert reading.badge_number(person.badge) == person.pk


def test_a_manager_sets_the_rules_and_the_ledger_says_so(client_as):
    sent = {"both_confirm": "on", "witnesses": "notary@example.com\nWitness@example.com notary@example.com"}
    assert client_as(Role.MANAGER).post("/custody/rules/", sent).status_code == 303
    assert CustodyRules.current().both_confirm
    assert Event.objects.latest("sequence").kind == "lab-changed"
    assert client_as(Role.ENGINEER).get("/custody/rules/").status_code == 403


def test_a_witness_has_an_address(client_as):
    answer = client_as(Role.MANAGER).post("/custody/rules/", {"witnesses": "not an address"})
    assert answer.status_code == 422
