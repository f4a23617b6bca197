"""The bench's pages of identity: what is pasted, dropped or typed, and what must be answered."""

from __future__ import annotations

import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext

from labcases.cases.models import Item, Reading
from labcases.cases.readings.actions import identify, read_page
from labcases.lab.roles import Role
from tests.media.test_identify import made

NOTED = {"maker": "Bramford", "model": "BQ-500", "serial": "BQ5-0000419", "sectors": 976_773_168, "sector_bytes": 512}


def sent(client, item: Item, **about: object):
    return client.post(f"/bench/{item}/identify/", {"once": str(uuid.uuid4()), **about}, follow=True)


def test_a_pasted_listing_is_compared_and_nothing_is_asked(make, client_as):
    make.profile()
    item = make.item(**NOTED)
    page = sent(client_as(Role.ENGINEER), item, page=made().hex(" ")).content.decode()
    assert "BRAMFORD BQ-500" in page
    assert "It has the standard number of sectors for 500 GB." in page
    assert "Answer what differs" not in page


def test_a_dropped_file_with_a_difference_asks_and_the_answer_is_kept(make, client_as):
    make.profile()
    item, client = make.item(**NOTED | {"serial": "BQ5-0000491"}), client_as(Role.ENGINEER)
    asked = sent(client, item, file=SimpleUploadedFile("page.bin", made()))
    assert "Answer what differs" in asked.content.decode()
    where = asked.redirect_chain[-1][0]
    assert client.post(where, {"once": str(uuid.uuid4())}).status_code == 422
    done = client.post(where, {"once": str(uuid.uuid4()), "answer-serial": "typo"}, follow=True)
    assert done.status_code == 200
    item.refresh_from_db()
    assert item.serial == "BQ5-0000419"


def test_the_wrong_item_stands_stopped_on_its_docket_and_a_manager_lifts_it(make, client_as):
    make.profile()
    item, engineer = make.item(**NOTED | {"serial": "BQ5-0000491"}), client_as(Role.ENGINEER)
    where = sent(engineer, item, page=made().hex()).redirect_chain[-1][0]
    engineer.post(where, {"once": str(uuid.uuid4()), "answer-serial": "wrong"})
    assert "Stop: it is the wrong item" in engineer.get(f"/cases/{item.case}/").content.decode()
    lift = {"once": str(uuid.uuid4()), "because": "The label was another's."}
    assert engineer.post(f"/bench/{item}/wrong-item/", lift).status_code == 403
    assert client_as(Role.MANAGER).post(f"/bench/{item}/wrong-item/", lift).status_code == 303
    assert "Stop: it is the wrong item" not in engineer.get(f"/cases/{item.case}/").content.decode()


@pytest.mark.parametrize(
    ("about", "said"),
    [
        ({}, "Paste its page, drop the file, or type what the machine shows."),
        ({"page": "hello"}, "There is no hex listing in this text"),
        ({"page": "00 " * 512}, "is blank: every byte is 00h"),
        ({"page": made().hex(), "serial": "X"}, "not both"),
        ({"page": "0" * 300_000}, "This is too long for one page."),
        ({"sectors": "many"}, "Enter a whole number."),
    ],
)
def test_bad_input_is_said_and_nothing_is_kept(make, client_as, about, said):
    make.profile()
    answer = sent(client_as(Role.ENGINEER), make.item(**NOTED), **about)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Reading.objects.exists()


@pytest.mark.parametrize("data", [b"", b"\0" * 512, b"\xff" * 4096, b"\x80" * 100, b"1" * 300_000])
def test_a_bad_file_is_said_and_nothing_is_kept(make, client_as, data):
    make.profile()
    answer = sent(client_as(Role.ENGINEER), make.item(**NOTED), file=SimpleUploadedFile("page.bin", data))
    assert answer.status_code == 422
    assert not Reading.objects.exists()


@pytest.mark.parametrize("role", [Role.COUNTER, Role.MANAGER, Role.AUDITOR])
def test_others_look_but_do_not_read_or_answer(make, noon, client_as, role):
    make.profile()
    item = make.item(**NOTED | {"serial": "BQ5-0000491"})
    reading = identify(item=item, read=read_page(made()), by=make.actor(Role.ENGINEER), happened=noon)
    client = client_as(role)
    assert client.get(f"/bench/{item}/identify/").status_code == 403
    assert client.get(reading.get_absolute_url()).status_code == 200
    answer = client.post(reading.get_absolute_url(), {"once": str(uuid.uuid4()), "answer-serial": "typo"})
    assert answer.status_code == 403


@pytest.mark.parametrize(
    ("seen", "word"), [("returning", "Returning."), ("other", "Another owner&#x27;s."), ("stock", "Ours.")]
)
def test_a_known_serial_is_said_loudly_and_each_kind_differently(make, noon, client_as, seen, word):
    make.profile()
    item = make.item(**NOTED | {"serial": ""})
    if seen == "stock":
        make.donor(serial=NOTED["serial"])
    else:
        make.item(**NOTED, case={"owner": item.case.owner if seen == "returning" else make.party()})
    page = sent(client_as(Role.ENGINEER), item, page=made().hex()).content.decode()
    assert word.replace("&#x27;", "'") in page.replace("&#x27;", "'")


def test_a_reading_of_another_item_is_not_found(make, noon, client_as):
    make.profile()
    item, other = make.item(**NOTED), make.item()
    reading = identify(item=item, read=read_page(made()), by=make.actor(Role.ENGINEER), happened=noon)
    assert client_as(Role.ENGINEER).get(f"/bench/{other}/identify/{reading.pk}/").status_code == 404


def test_facts_cost_the_same_however_many_readings(make, noon):
    from labcases.cases.queries import facts_for

    item = make.item(**NOTED)

    def cost() -> int:
        with CaptureQueriesContext(connection) as ran:
            facts_for([item])
        return len(ran)

    before = cost()
    for _ in range(5):
        identify(item=item, read=read_page(made()), by=make.actor(Role.ENGINEER), happened=noon)
    assert cost() == before
