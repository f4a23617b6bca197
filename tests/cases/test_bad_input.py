"""Bad input at the counter: a sentence beside the field, nothing typed is lost, nothing half done."""

from __future__ import annotations

import uuid

import pytest

from labcases.cases.models import Case
from labcases.core.models import OneTimeKey
from labcases.custody.models import Event
from labcases.lab.roles import Role
from labcases.people.models import Party
from tests.cases.filled import TAKE_IN, filled, items

LONG = "Wolfeschlegel " * 30


@pytest.fixture
def counter(make, client_as):
    make.profile(country="GB")
    make.terms()
    return client_as(Role.COUNTER)


WRONG = {
    "no name": ({"owner__name": "  "}, "Owner: Name", "Say who it is"),
    "no reach": ({"owner__phone": ""}, "Owner: Phone", "Say how to reach them"),
    "no kind": ({"item__0__kind": ""}, "Item 1: Kind", "Say what kind of thing it is"),
    "unknown kind": ({"item__0__kind": "gramophone"}, "Item 1: Kind", "not in the list"),
    "other without words": ({"item__0__kind": "other"}, "Item 1: What it is", "in a few words"),
    "name too long": ({"owner__name": LONG}, "Owner: Name", "longer than 300"),
    "serial too long": ({"item__0__serial": "S" * 101}, "Item 1: Serial", "100"),
    "no phone": ({"owner__phone": "ask my son"}, "Owner: Phone", "is no phone number"),
    "phone too short": ({"owner__phone": "12"}, "Owner: Phone", "too short or too long"),
    "phone with extension": ({"owner__phone": "0118 496 0743 ext. 12"}, "Owner: Phone", "ext. 12"),
    "no mail": ({"owner__email": "vale(at)example"}, "Owner: E-mail", "like name@example.com"),
    "sectors in words": ({"item__0__sectors": "many"}, "Item 1: Sectors (LBA)", "whole number"),
    "sectors too many": ({"item__0__sectors": "9" * 30}, "Item 1: Sectors (LBA)", "9007199254740991"),
    "no date": ({"item__0__made": "last spring"}, "Item 1: Made", "Write the day as"),
    "a day to come": ({"item__0__made": "2099-01-01"}, "Item 1: Made", "2099-01-01 is no day on which it"),
    "unknown mark": ({"item__0__marks": ["haunted"]}, "Item 1: Outside", "haunted"),
    "nothing and something": ({"item__0__marks": ["nothing", "dents"]}, "Item 1: Outside", "Take one back"),
    "no amount": ({"terms__limit": "a lot"}, "Spend up to, EUR", "is no amount of money"),
    "two readings": ({"terms__limit": "1.234"}, "Spend up to, EUR", "two ways"),
    "below zero": ({"terms__limit": "-5"}, "Spend up to, EUR", "not below zero"),
    "far too much": ({"terms__limit": "9" * 30}, "Spend up to, EUR", "larger than any amount"),
    "count of nothing": ({"accessories": "0 cables"}, "Counted", "Count 1 to 999"),
    "in the future": ({"happened": "2999-01-01T00:00"}, "Happened", "future"),
    "no moment": ({"happened": "yesterday"}, "Happened", "valid date"),
    "bearer without a name": ({"brought": "other", "bearer__email": "a@example.com"}, "Brought by: Name", "Say who"),
    "screen without a drawing": ({"terms__how": "screen"}, "Signed", "Nothing is drawn"),
    "unknown way of signing": ({"terms__how": "nodded"}, "Signed", "nodded"),
    "customer not on file": ({"owner__known": "999999"}, "", "not on file any more"),
    "customer no number": ({"owner__known": "9" * 40}, "", "not on file any more"),
    "enquiry not there": ({"enquiry": "4711"}, "", "become a case already"),
}  # fmt: skip


@pytest.mark.parametrize(("typed", "field", "sentence"), WRONG.values(), ids=WRONG.keys())
def test_a_mistake_is_said_beside_its_field_and_nothing_is_lost(counter, typed, field, sentence):
    response = counter.post(TAKE_IN, filled(**{"told__story": "kept as typed", **typed}))
    assert response.status_code == 422
    said = [wrong for wrong in response.context["wrongs"] if sentence in wrong["said"]]
    assert said, response.context["wrongs"]
    assert not field or said[0]["label"] == field
    assert "kept as typed" in response.content.decode()
    assert [kind.objects.count() for kind in (Case, Party, OneTimeKey)] == [0, 0, 0]
    assert not Event.objects.exclude(kind="lab-changed").exists()


def test_every_mistake_is_said_at_once(counter):
    response = counter.post(TAKE_IN, filled(owner__name="", item__0__kind="", terms__limit="x", happened="x"))
    assert len(response.context["wrongs"]) == 4


@pytest.mark.parametrize(
    "name",
    [
        "Ὀδυσσεύς",
        "ਗੁਰਪ੍ਰੀਤ ਕੌਰ",
        "नेहा",
        "李雷",
        "مریم",
        "Nguyễn Thị Ánh",
        "X",
        "Ṱshilidzi ǃXóõ",
        "Wolfe " * 49 + "schlegel"[:6],
    ],
)
def test_a_name_in_any_script_and_without_a_surname_is_a_name(counter, name):
    response = counter.post(TAKE_IN, filled(owner__name=name))
    assert response.status_code == 303
    assert Case.objects.get().owner.name == name.strip()


def test_a_pasted_label_loses_its_control_characters_and_keeps_its_letters(counter):
    pasted = {
        "item__0__serial": "PW2M\x00\x1b0001\r\n",
        "item__0__label_codes": "P/N\t4711\u202e",
        "owner__name": "Or\x07rin\u2028Vale",
    }
    assert counter.post(TAKE_IN, filled(**pasted)).status_code == 303
    item = Case.objects.get().items.get()
    assert (item.serial, item.label_codes) == ("PW2M 0001", "P/N 4711")
    assert item.case.owner.name == "Or rin Vale"


def test_markup_is_text(counter):
    counter.post(TAKE_IN, filled(owner__name="<script>alert(1)</script>"))
    page = counter.get(f"/cases/{Case.objects.get()}/").content.decode()
    assert "<script>alert(1)" not in page
    assert "&lt;script&gt;alert(1)" in page


@pytest.mark.parametrize("total", ["", "-1", "x", "9999999999999", "0"])
def test_a_list_of_items_that_did_not_arrive_whole_is_said(counter, total):
    response = counter.post(TAKE_IN, filled(**{"item-TOTAL_FORMS": total, "told__story": "kept as typed"}))
    assert response.status_code in (303, 422)
    assert Case.objects.count() == (response.status_code == 303)
    assert all(case.items.count() == 1 for case in Case.objects.all())


@pytest.mark.parametrize(
    "button", [{"remove": "99"}, {"remove": "9" * 30}, {"take_owner": "x"}, {"take_owner": "9" * 40}, {"add": ""}]
)
def test_a_button_of_a_stale_page_changes_nothing_it_should_not(counter, button):
    response = counter.post(TAKE_IN, filled(**button, **items({"kind": "ssd", "serial": "AAAA1"})))
    assert response.status_code == 200
    assert [i.serial for i in response.context["form"].new_items() if i.serial] == ["AAAA1"]


def test_an_empty_post_is_a_page_with_sentences(counter):
    response = counter.post(f"{TAKE_IN}?draft={uuid.uuid4()}", {})
    assert response.status_code == 422
    assert any("did not arrive whole" in wrong["said"] for wrong in response.context["wrongs"])


def test_a_draft_address_that_is_no_key_gets_a_fresh_page(counter):
    response = counter.get(f"{TAKE_IN}?draft=../../etc")
    assert response.status_code == 302
    assert counter.get(response.url).status_code == 200


@pytest.mark.parametrize(
    "page", ["intake/", "receipt/", "labels/", "stop/", "stop/dispute/", "items/1/", "items/1/end/"]
)
@pytest.mark.parametrize("code", ["26-00001-X", "nonsense", "26-99999-1", "%00", "…"])
def test_a_mistyped_code_is_a_page_that_says_so(counter, page, code):
    assert counter.get(f"/cases/{code}/{page}").status_code == 404


def test_the_code_of_an_item_is_no_case(counter, make):
    item = make.item()
    assert counter.get(f"/cases/{item}/intake/").status_code == 404


def test_sending_other_content_with_the_same_key_leads_to_the_first_case(counter):
    typed = filled()
    first = counter.post(TAKE_IN, typed)
    second = counter.post(TAKE_IN, typed | {"owner-name": "Somebody Else"})
    assert (second.status_code, second.url) == (303, first.url)
    assert Case.objects.get().owner.name == "Orrin Vale"


def test_correcting_with_a_mistake_keeps_what_is_typed(counter, make):
    item = make.item()
    typed = {"kind": "disk25", "serial": "KEPT1234", "made": "nonsense", "heads": "many"}
    response = counter.post(f"/cases/{item.case}/items/1/", typed)
    assert response.status_code == 422
    assert 'value="KEPT1234"' in response.content.decode()
    item.refresh_from_db()
    assert item.serial != "KEPT1234"
