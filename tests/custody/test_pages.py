"""The pages of Custody: where things are, and moving them."""

from __future__ import annotations

from django.urls import reverse

from labcases.custody.models import Thing
from labcases.lab.models import Place
from labcases.lab.roles import Role


def test_a_scanned_thing_is_put_in_a_place(make, client_as, noon):
    make.place(kind=Place.Kind.COUNTER)
    shelf, item = make.place(name="Shelf A1"), make.item()
    client = client_as(Role.ENGINEER)
    sent = {"things": f"LC{item.thing.code}", "place": shelf.pk}
    answer = client.post(reverse("custody:move"), sent)
    assert answer.status_code == 303, answer.content.decode()
    assert Thing.objects.get(pk=item.thing.pk).place == shelf
    assert "Shelf A1" in client.get(reverse("custody:thing", args=[str(item)])).content.decode()


def test_a_mistyped_code_is_said_beside_the_field_and_nothing_is_moved(make, client_as):
    make.place(kind=Place.Kind.COUNTER)
    shelf, item = make.place(), make.item()
    wrong = item.thing.code[:-1] + ("A" if item.thing.code[-1] != "A" else "B")
    answer = client_as(Role.ENGINEER).post(reverse("custody:move"), {"things": f"{item} {wrong}", "place": shelf.pk})
    assert answer.status_code == 422
    assert "check character" in answer.content.decode()
    assert Thing.objects.get(pk=item.thing.pk).place != shelf


def test_pressing_twice_moves_once(make, client_as):
    from labcases.custody.models import Event

    make.place(kind=Place.Kind.COUNTER)
    shelf, item = make.place(), make.item()
    client = client_as(Role.ENGINEER)
    sent = {"things": str(item), "place": shelf.pk, "once": "8a8a8a8a-0000-4000-8000-000000000001"}
    first, second = (client.post(reverse("custody:move"), sent) for _ in range(2))
    assert first.url == second.url
    assert Event.objects.filter(kind="moved").count() == 1


def test_a_thing_with_the_customer_cannot_be_moved(make, client_as, noon):
    shelf, item = make.place(), make.item()
    Thing.objects.filter(pk=item.thing.pk).update(place=None, staff=None)
    answer = client_as(Role.ENGINEER).post(reverse("custody:move"), {"things": str(item), "place": shelf.pk})
    assert answer.status_code == 422
    assert "is not in the lab" in answer.content.decode()


def test_the_list_of_things_costs_the_same_for_two_or_thirty(make, client_as, django_assert_num_queries):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def cost() -> int:
        with CaptureQueriesContext(connection) as ran:
            assert client.get(reverse("custody:things")).status_code == 200
        return len(ran)

    client = client_as(Role.AUDITOR)
    make.case(items=2)
    few = cost()
    make.case(items=28)
    assert cost() == few


def test_the_front_looks_for_movements_near_the_end_of_the_ledger_and_never_through_all_of_it(
    make, client_as, monkeypatch, noon
):
    from labcases.custody import queries
    from labcases.custody.actions import move
    from labcases.custody.noting.actions import seal

    thing, by = make.item().thing, make.everyone()
    move(thing=thing, to=make.place(name="Shelf A1"), by=by, happened=noon)
    client = client_as(Role.ENGINEER)
    assert "put in Shelf A1" in client.get(reverse("docket:custody")).content.decode()
    monkeypatch.setattr(queries, "NEAR", 3)
    for number in "123":
        seal(thing=thing, seals=[f"S-{number}"], by=by, happened=noon)
    page = client.get(reverse("docket:custody")).content.decode()
    assert "put in Shelf A1" not in page
    assert "Nothing has moved lately." in page
