"""A page of the medium at the counter: it fills what is blank, stands beside the label, and goes with the item."""

from __future__ import annotations

import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext

from labcases.cases.models import Case, Draft, Reading
from labcases.lab.roles import Role
from tests.cases.filled import filled
from tests.media.test_identify import made


@pytest.fixture
def counter(make, client_as):
    make.profile()
    make.terms()
    return client_as(Role.COUNTER)


def pressed(client, key: uuid.UUID, number: int = 0, **typed: object):
    about = {"item-TOTAL_FORMS": "1", "item-INITIAL_FORMS": "0", "read": str(number), **typed}
    return client.post(f"/counter/drafts/{key}/read/", about)


def value(page: str, name: str) -> str:
    """What a field of the page holds."""
    start = page.index(f'name="{name}"')
    tag = page[page.rindex("<", 0, start) : page.index(">", start)]
    return tag.partition('value="')[2].partition('"')[0]


def test_a_pasted_page_fills_what_is_blank_and_leaves_what_was_typed(counter):
    key = uuid.uuid4()
    page = pressed(counter, key, **{"item-0-serial": "BQ5-0000491", "item-0-page": made().hex(" ")}).content.decode()
    assert value(page, "item-0-model") == "BRAMFORD BQ-500"
    assert value(page, "item-0-sectors") == "976773168"
    assert value(page, "item-0-sector_bytes") == "512"
    assert value(page, "item-0-serial") == "BQ5-0000491"
    for said in ("read from the label", "read from the medium", "Medium says", "different"):
        assert said in page
    assert Reading.objects.get(draft=key).filled == ["model", "firmware", "sectors", "sector_bytes"]


def test_a_dropped_file_is_read_too(counter):
    page = pressed(counter, uuid.uuid4(), **{"item-0-file": SimpleUploadedFile("page.bin", made())}).content.decode()
    assert value(page, "item-0-serial") == "BQ5-0000419"


def test_the_second_item_is_read_into_the_second(counter):
    about = {"item-TOTAL_FORMS": "2", "item-1-page": made().hex()}
    page = pressed(counter, uuid.uuid4(), 1, **about).content.decode()
    assert (value(page, "item-0-serial"), value(page, "item-1-serial")) == ("", "BQ5-0000419")


@pytest.mark.parametrize("text", ["", "hello", "00 " * 512, "F" * 300_000, "\u00e9\u4e16" * 100])
def test_what_is_no_page_is_said_and_nothing_typed_is_lost(counter, text):
    page = pressed(counter, uuid.uuid4(), **{"item-0-serial": "KEPT-1", "item-0-page": text}).content.decode()
    assert "Not read." in page
    assert value(page, "item-0-serial") == "KEPT-1"
    assert not Reading.objects.exists()


@pytest.mark.parametrize("number", ["", "x", "-1", "99", "1e3", "007" * 9])
def test_a_button_of_no_item_changes_nothing(counter, number):
    typed = {"item-TOTAL_FORMS": "1", "item-INITIAL_FORMS": "0", "read": number, "item-0-serial": "KEPT-1"}
    answer = counter.post(f"/counter/drafts/{uuid.uuid4()}/read/", typed)
    assert answer.status_code == 200
    assert value(answer.content.decode(), "item-0-serial") == "KEPT-1"


def test_the_reading_goes_with_its_item_and_is_marked_on_the_docket(counter):
    key = uuid.uuid4()
    pressed(counter, key, **{"item-0-page": made().hex()})
    reading = Reading.objects.get(draft=key)
    typed = filled(once=str(key), **{"item-0-reading": str(reading.pk), "item-0-serial": "BQ5-0000419"})
    assert counter.post(f"/counter/take-in/?draft={key}", typed).status_code == 303
    case = Case.objects.get()
    reading.refresh_from_db()
    assert (reading.item, reading.draft) == (case.items.get(), None)
    assert "read from the medium" in counter.get(f"/cases/{case}/").content.decode()


def test_a_reading_of_another_draft_is_not_taken(counter):
    key = uuid.uuid4()
    pressed(counter, uuid.uuid4(), **{"item-0-page": made().hex()})
    foreign = Reading.objects.get()
    counter.post(f"/counter/take-in/?draft={key}", filled(once=str(key), **{"item-0-reading": str(foreign.pk)}))
    foreign.refresh_from_db()
    assert Case.objects.exists()
    assert foreign.item is None


def test_a_page_that_was_not_read_is_not_passed_over(counter):
    key = uuid.uuid4()
    answer = counter.post(f"/counter/take-in/?draft={key}", filled(once=str(key), **{"item-0-page": made().hex()}))
    assert answer.status_code == 422
    assert "was not read yet" in answer.content.decode()
    assert not Case.objects.exists()


def test_the_draft_keeps_the_reading_and_not_the_page(counter):
    key = uuid.uuid4()
    about = {"item-TOTAL_FORMS": "1", "item-INITIAL_FORMS": "0", "item-0-page": "secret page", "item-0-reading": "7"}
    counter.post(f"/counter/drafts/{key}/", about)
    kept = Draft.objects.get(key=key).as_typed()
    assert "item-0-page" not in kept
    assert kept["item-0-reading"] == "7"


def test_a_dropped_draft_drops_its_readings(counter):
    key = uuid.uuid4()
    pressed(counter, key, **{"item-0-page": made().hex()})
    counter.post(f"/counter/drafts/{key}/drop/")
    assert not Reading.objects.exists()


def test_the_family_of_a_typed_model_is_said_and_its_sectors_can_be_taken(make, counter):
    from labcases.stock.sizes import Size

    make.family("Pelorus Minnow", aliases=[("", "PL500")], sizes=[Size(500, 2, 1)])
    key = uuid.uuid4()
    typed = {"item-TOTAL_FORMS": "1", "item-INITIAL_FORMS": "0", "item-0-model": "PL500-2M"}
    said = counter.post(f"/counter/drafts/{key}/", typed).content.decode()
    assert "One of Pelorus Minnow." in said
    assert "500 GB: 2 heads, 1 platter" in said
    page = counter.post(f"/counter/drafts/{key}/read/", {**typed, "size": "0:976773168"}).content.decode()
    assert value(page, "item-0-sectors") == "976773168"


@pytest.mark.parametrize("role", [Role.ENGINEER, Role.AUDITOR])
def test_only_who_takes_in_reads_here(make, client_as, role):
    make.profile()
    assert pressed(client_as(role), uuid.uuid4(), **{"item-0-page": made().hex()}).status_code == 403
    assert not Reading.objects.exists()


def test_the_page_costs_the_same_for_one_reading_and_for_three(counter):
    key = uuid.uuid4()

    def cost(number: int, **typed: object) -> int:
        about = {"item-TOTAL_FORMS": "4", "item-INITIAL_FORMS": "0", "read": "3", **typed}
        with CaptureQueriesContext(connection) as ran:
            counter.post(f"/counter/drafts/{key}/read/", about)
        return len(ran)

    for number in range(3):
        pressed(counter, key, number, **{"item-TOTAL_FORMS": "4", f"item-{number}-page": made().hex()})
    first, *others = Reading.objects.values_list("pk", flat=True)
    one = cost(3, **{"item-0-reading": first})
    assert cost(3, **{f"item-{n}-reading": pk for n, pk in enumerate([first, *others])}) == one
