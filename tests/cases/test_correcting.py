"""Putting right, finishing later, stopping, ending: each with its reason on record."""

from __future__ import annotations

import pytest

from labcases.cases.models import Case, Item
from labcases.custody.models import Event, EventText
from labcases.lab.roles import Role


def because(kind: str) -> list[str]:
    """The reasons of all events of a kind."""
    sequences = Event.objects.filter(kind=kind).values("sequence")
    return list(EventText.objects.filter(sequence__in=sequences, field="because").values_list("text", flat=True))


@pytest.fixture
def counter(make, client_as):
    make.profile()
    return client_as(Role.COUNTER)


def corrected(item: Item, **differs):
    typed = {
        "kind": item.kind, "maker": item.maker, "model": item.model, "serial": item.serial, "sectors": item.sectors,
        "sector_bytes": item.sector_bytes, "marks": item.marks, "behaviours": item.behaviours,
    }  # fmt: skip
    return {name: value for name, value in (typed | differs).items() if value is not None}


# --- what was noted of an item ----------------------------------------------------------------------------------------


def test_a_corrected_serial_keeps_what_stood_there_in_the_day_book(counter, make):
    item = make.item(serial="PW2M0OO1")
    response = counter.post(f"/cases/{item.case}/items/1/", corrected(item, serial="PW2M0001", because="read again"))
    assert response.status_code == 303
    item.refresh_from_db()
    assert item.serial == "PW2M0001"
    assert because("intake-changed") == ["serial PW2M0OO1 → PW2M0001 (read again)"]


def test_a_correction_that_changes_nothing_records_nothing(counter, make):
    item = make.item()
    counter.post(f"/cases/{item.case}/items/1/", corrected(item))
    assert not Event.objects.filter(kind="intake-changed").exists()


def test_an_engineer_may_correct_and_an_auditor_may_not(make, client_as):
    item = make.item()
    address = f"/cases/{item.case}/items/1/"
    assert client_as(Role.ENGINEER).post(address, corrected(item, heads="4")).status_code == 303
    assert client_as(Role.AUDITOR).post(address, corrected(item, heads="6")).status_code == 403
    item.refresh_from_db()
    assert item.heads == 4


def test_an_item_that_is_not_there_is_a_page_that_says_so(counter, make):
    case = make.case()
    assert counter.get(f"/cases/{case}/items/7/").status_code == 404
    assert counter.get("/cases/26-99999-X/items/1/").status_code == 404


# --- the rest of an intake --------------------------------------------------------------------------------------------


@pytest.fixture
def unfinished(make) -> Case:
    make.terms()
    return make.case(items=[make.new_item(marks=[], behaviours=[])], told=None, signed=None)


def test_an_unfinished_intake_is_finished_in_one_go(counter, unfinished):
    typed = {
        "state-1-marks": ["dents"], "state-1-behaviours": ["clicks"], "told-stories": ["dropped"],
        "told-wanted": "Photographs", "terms-how": "paper", "terms-allows": ["examine"], "terms-signed_by": "Pia Lund",
    }  # fmt: skip
    response = counter.post(f"/cases/{unfinished}/intake/", typed)
    assert response.status_code == 303
    unfinished.refresh_from_db()
    assert (unfinished.signed_by, bool(unfinished.intake_finished)) == ("Pia Lund", True)
    assert unfinished.items.get().no_power_because == ["it was dropped", "it clicks"]


def test_what_is_still_missing_stays_missing(counter, unfinished):
    counter.post(f"/cases/{unfinished}/intake/", {"told-stories": ["wear"]})
    assert "state seen, behaviour, wanted, terms signed" in counter.get(f"/cases/{unfinished}/").content.decode()


def test_everything_asked_and_not_known_is_finished_too(counter, unfinished):
    counter.post(f"/cases/{unfinished}/intake/", {"finished": "on"})
    unfinished.refresh_from_db()
    assert unfinished.intake_finished
    assert Event.objects.filter(kind="intake-finished").count() == 1


def test_terms_that_are_signed_are_not_signed_again(counter, make):
    case = make.case()
    page = counter.get(f"/cases/{case}/intake/").content.decode()
    assert "terms-how" not in page
    counter.post(f"/cases/{case}/intake/", {"terms-how": "paper", "terms-signed_by": "Somebody Else"})
    case.refresh_from_db()
    assert case.signed_by == "Orrin Vale"


# --- stops ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("verb", "field", "kind"), [("dispute", "disputed", "ownership-disputed"), ("hold", "legal_hold", "held-by-law")]
)
def test_the_counter_stops_a_case_with_a_reason(counter, make, verb, field, kind):
    case = make.case()
    assert counter.post(f"/cases/{case}/stop/{verb}/", {"because": ""}).status_code == 422
    assert counter.post(f"/cases/{case}/stop/{verb}/", {"because": "two heirs"}).status_code == 303
    case.refresh_from_db()
    assert getattr(case, field)
    assert because(kind) == ["two heirs"]


@pytest.mark.parametrize(
    ("stop", "lift", "field"), [("dispute", "settle-dispute", "disputed"), ("hold", "end-hold", "legal_hold")]
)
def test_only_a_manager_lifts_a_stop(make, client_as, counter, stop, lift, field):
    case = make.case()
    counter.post(f"/cases/{case}/stop/{stop}/", {"because": "two heirs"})
    assert counter.post(f"/cases/{case}/stop/{lift}/", {"because": "done"}).status_code == 403
    assert client_as(Role.MANAGER).post(f"/cases/{case}/stop/{lift}/", {"because": "done"}).status_code == 303
    case.refresh_from_db()
    assert not getattr(case, field)


# --- exits ------------------------------------------------------------------------------------------------------------


def test_an_exit_has_a_reason(counter, make):
    item = make.item()
    address = f"/cases/{item.case}/items/1/end/"
    assert counter.post(address, {"to": "withdrawn", "because": ""}).status_code == 422
    assert counter.post(address, {"to": "withdrawn", "because": "changed their mind"}).status_code == 303
    item.refresh_from_db()
    assert item.stage == "withdrawn"


def test_an_exit_that_no_way_leads_to_is_not_offered(counter, make):
    item = make.item()
    response = counter.post(f"/cases/{item.case}/items/1/end/", {"to": "declined", "because": "no quote yet"})
    assert response.status_code == 422
    assert 'value="declined"' not in response.content.decode()


# --- papers -----------------------------------------------------------------------------------------------------------


def test_a_receipt_printed_twice_is_one_paper_until_something_changes(counter, make):
    item = make.item()
    address = f"/cases/{item.case}/receipt/"
    first, again = (counter.post(address, {"size": "A4"}).url for _ in range(2))
    counter.post(f"/cases/{item.case}/items/1/", corrected(item, serial="CHANGED1"))
    changed = counter.post(address, {"size": "A4"}).url
    assert first == again != changed
    assert len(because("paper-printed")) == 2


def test_labels_come_for_the_case_its_items_and_what_came_along(counter, make):
    case = make.case(items=2, accessories=[("cable", 1)])
    page = counter.get(f"/cases/{case}/labels/")
    assert len(page.context["labels"]) == 4
    which = [label.symbol for label in page.context["labels"][1:3]]
    response = counter.post(f"/cases/{case}/labels/", {"which": which, "size": "roll-89x36"})
    assert response.content.startswith(b"%PDF")
    labelled = Event.objects.filter(kind="labelled", case_code=case.code).order_by("thing_code")
    assert [f"LC{event.thing_code}" for event in labelled] == which


def test_a_label_of_another_case_is_not_printed(counter, make):
    case, other = make.case(), make.case()
    response = counter.post(f"/cases/{case}/labels/", {"which": [f"LC{other.code}"], "size": "a4-3x8"})
    assert response.status_code == 422
    assert "A label of another case" in response.content.decode()


def test_a_place_beyond_the_sheet_is_said(counter, make):
    case = make.case()
    typed = {"which": [f"LC{case.code}"], "size": "a4-3x8", "first": "25"}
    assert "This sheet has 24 places" in counter.post(f"/cases/{case}/labels/", typed).content.decode()
