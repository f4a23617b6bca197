"""Scan or type anything anywhere: a code opens its thing, words list what they may mean."""

from __future__ import annotations

import pytest
from django.urls import reverse

from labcases.core import codes
from labcases.lab.roles import Role


def find(client, typed: str):
    return client.get(reverse("docket:find"), {"q": typed})


def scanned(client, code: str) -> str:
    """Where a scan of the symbol of this code leads, opened."""
    answer = find(client, codes.symbol(code))
    assert answer.status_code == 302
    assert client.get(answer.url).status_code == 200
    return answer.url


def test_a_scanned_docket_opens_its_case(make, client_as):
    case = make.case()
    assert scanned(client_as(), case.code) == case.get_absolute_url()


def test_a_scanned_patient_opens_its_case_at_that_item(make, client_as):
    item = make.item()
    url = scanned(client_as(), item.thing.code)
    assert url == f"{item.case.get_absolute_url()}#item-1"
    assert 'id="item-1"' in client_as().get(url).content.decode()


def test_a_scanned_accessory_opens_its_case(make, client_as):
    case = make.case(accessories=[("USB cable", 1)])
    assert scanned(client_as(), case.accessories.get().thing.code) == f"{case.get_absolute_url()}#items"


def test_a_scanned_donor_and_its_part_open_the_donor(make, client_as):
    donor = make.donor()
    address = reverse("stock:donor", args=[donor.thing.printed_code])
    assert scanned(client_as(), donor.thing.code) == address
    assert scanned(client_as(), donor.parts.first().thing.code).startswith(address)


def test_a_scanned_destination_opens_it(make, client_as):
    destination = make.destination()
    address = reverse("stock:destination", args=[destination.thing.printed_code])
    assert scanned(client_as(), destination.thing.code) == address


def test_a_scanned_delivery_medium_opens_it(make, client_as):
    medium = make.delivery(make.item())
    assert scanned(client_as(), medium.thing.code) == reverse("stock:destination", args=[medium.thing.printed_code])


def test_a_scanned_place_opens_it(make, client_as):
    shelf = make.place(name="Shelf A1")
    assert "Shelf A1" in client_as().get(scanned(client_as(), shelf.code)).content.decode()


@pytest.mark.parametrize("spelling", [str.lower, str.upper, lambda code: code.replace("-", " "), codes.symbol])
def test_a_code_is_read_however_it_is_spelled(make, client_as, spelling):
    case = make.case()
    assert find(client_as(), spelling(str(case))).url == case.get_absolute_url()


def test_a_mistyped_code_is_said_and_opens_nothing(make, client_as):
    case = make.case()
    wrong = str(case)[:-1] + ("A" if str(case)[-1] != "A" else "B")
    answer = find(client_as(), wrong)
    assert answer.status_code == 200
    assert "a character was mistyped, or two were swapped" in answer.content.decode()


def test_a_right_code_that_nothing_carries_is_said(make, client_as):
    answer = find(client_as(), codes.with_check(codes.case_body(2026, 99_999)))
    assert "Nothing carries the code 26-99999-" in answer.content.decode()


def test_a_case_is_found_by_the_name_of_anybody_in_it(make, client_as):
    owner, bearer, payer = (make.party(name=name) for name in ("Žofie Marsh", "Wren Halloway", "Tidewater Ltd"))
    case = make.case(owner=owner, bearer=bearer, payer=payer)
    other = make.case()
    for typed in ("zofie", "halloway", "TIDEWATER"):
        page = find(client_as(), typed).content.decode()
        assert str(case) in page
        assert str(other) not in page


def test_a_customer_is_found_by_the_last_four_digits_of_the_phone(make, client_as):
    case = make.case(owner=make.party(name="Wren Halloway", phone="+441184960743"))
    page = find(client_as(), "0743").content.decode()
    assert str(case) in page
    assert "Wren Halloway" in page
    assert "Wren Halloway" not in find(client_as(), "0744").content.decode()


def test_a_thing_is_found_by_its_serial_however_it_is_typed(make, client_as):
    item = make.item(serial="PW2M-00 7731")
    page = find(client_as(), "pw2m007731").content.decode()
    assert item.thing.printed_code in page


def test_three_characters_of_a_serial_find_nothing(make, client_as):
    item = make.item(serial="PW2", model="", maker="")
    assert item.thing.printed_code not in find(client_as(), "PW2").content.decode()


def test_a_thing_is_found_by_its_model_and_a_place_by_its_name(make, client_as):
    item, shelf = make.item(model="PL777"), make.place(name="Shelf A1")
    assert item.thing.printed_code in find(client_as(), "pl777").content.decode()
    assert shelf.name in find(client_as(), "shelf a").content.decode()


def test_nothing_typed_says_what_can_be_typed(make, client_as):
    assert "Scan a code" in find(client_as(), "").content.decode()


@pytest.mark.parametrize("typed", ["nobody at all", "\x00\x00", "'; DROP TABLE", "%", "ß" * 500, "🔧"])
def test_what_is_not_known_is_said_and_never_breaks(make, client_as, typed):
    make.case()
    answer = find(client_as(Role.AUDITOR), typed)
    assert answer.status_code == 200
    assert "<h1>Find</h1>" in answer.content.decode()
