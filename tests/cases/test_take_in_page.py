"""The take-in page: two minutes with the customer standing there, and nothing typed is lost."""

from __future__ import annotations

import io
from datetime import UTC, datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from PIL import Image

from labcases.cases import queries
from labcases.cases.models import Accessory, Case, Wanted
from labcases.core import codes, vault
from labcases.custody.models import Thing
from labcases.lab.roles import Role
from labcases.paper.models import Paper
from labcases.people.models import Party
from tests.cases.filled import TAKE_IN, drawn, filled, items


@pytest.fixture
def counter(make, client_as):
    """Somebody at the counter of a lab in Britain that keeps its books in euros."""
    make.profile(country="GB")
    make.terms()
    return client_as(Role.COUNTER)


def sent(counter, **differs):
    return counter.post(TAKE_IN, filled(**differs))


def taken(counter, **differs) -> Case:
    response = sent(counter, **differs)
    assert response.status_code == 303, response.context["wrongs"]
    return Case.objects.get()


def says(response) -> str:
    return " ".join(response.content.decode().split())


# --- what must be, and what may follow ------------------------------------------------------------------------------


def test_a_fresh_page_gets_an_address_of_its_own(counter):
    response = counter.get(TAKE_IN)
    assert response.status_code == 302
    assert response.url.startswith(f"{TAKE_IN}?draft=")
    assert counter.get(response.url).status_code == 200


def test_who_and_what_are_enough_and_the_rest_is_unfinished(counter):
    case = taken(counter)
    assert (case.owner.name, case.owner.phone) == ("Orrin Vale", "+441184960743")
    assert case.items.get().kind == "disk25"
    assert case.intake_finished is None
    assert case.terms_signed is None


def test_everything_asked_and_signed_finishes_the_intake(counter):
    case = taken(
        counter, item__0__marks=["dents"], item__0__behaviours=["clicks"], told__stories=["dropped"],
        told__wanted="! Photographs\nLetters", terms__how="paper", terms__allows=["examine", "open"], terms__limit="60",
    )  # fmt: skip
    assert case.intake_finished
    assert (case.may_examine, case.may_open, case.may_keep_dead) == (True, True, False)
    assert case.spending_limit == 6_000
    assert list(Wanted.objects.values_list("what", "urgent")) == [("Photographs", True), ("Letters", False)]


def test_take_in_and_print_ends_at_the_receipt(counter):
    response = sent(counter, outcome="receipt", accessories="2 USB cables")
    case, paper = Case.objects.get(), Paper.objects.get()
    assert response.url == f"/cases/{case}/receipt/"
    assert paper.code == str(case)
    assert counter.get(paper.get_absolute_url()).content.startswith(b"%PDF")


def test_an_engineer_is_not_let_in(make, client_as):
    assert client_as(Role.ENGINEER).get(TAKE_IN).status_code == 403
    assert client_as(Role.ENGINEER).post(TAKE_IN, filled()).status_code == 403
    assert not Case.objects.exists()


def test_accessories_are_counted(counter):
    taken(counter, accessories="2 USB cables\npower supply\nscrews x 4")
    counted = dict(Accessory.objects.values_list("words", "count"))
    assert counted == {"USB cables": 2, "power supply": 1, "screws": 4}


def test_late_entry_keeps_the_time_it_happened(counter):
    case = taken(counter, happened="2026-03-02T09:30")
    assert case.happened == datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
    assert case.entered > case.happened


def test_a_lock_is_noted_by_its_kind_and_whether_it_is_known(counter):
    case = taken(counter, told__locks=["phone code", "encryption"], told__knows_phone_code="yes")
    assert set(case.locks.values_list("kind", "customer_knows")) == {("phone code", "yes"), ("encryption", "")}


def test_no_field_of_the_page_asks_for_a_secret(counter):
    page = counter.get(TAKE_IN, follow=True)
    assert 'type="password"' not in says(page)
    assert "No password, code or key is written on this page" in says(page)


# --- several items --------------------------------------------------------------------------------------------------


def test_three_items_are_one_case(counter):
    case = taken(counter, **items({"kind": "member", "slot": "1"}, {"kind": "member", "slot": "2"}, {"kind": "nas"}))
    noted = list(case.items.values_list("number", "kind", "slot"))
    assert noted == [(1, "member", "1"), (2, "member", "2"), (3, "nas", "")]


def test_another_item_keeps_what_is_typed_and_takes_nothing_in(counter):
    response = sent(counter, add="item", item__0__serial="PW2M000001", owner__name="Orrin Vále")
    assert response.status_code == 200
    assert 'name="item-1-kind"' in says(response)
    assert 'value="PW2M000001"' in says(response)
    assert "Orrin Vále" in says(response)
    assert not Case.objects.exists()


def test_an_item_that_is_taken_out_leaves_the_others_as_they_are(counter):
    three = items(*({"kind": "ssd", "serial": serial} for serial in ("AAAA1", "BBBB2", "CCCC3")))
    response = sent(counter, remove="1", **three)
    form = response.context["form"]
    assert [item.serial for item in form.new_items()] == ["AAAA1", "CCCC3"]


def test_an_added_item_that_is_left_blank_is_not_passed_over(counter):
    response = sent(counter, **items({"kind": "ssd"}, {"serial": ""}))
    assert response.status_code == 422
    assert "Item 2: Kind" in says(response)
    assert not Case.objects.exists()


# --- people ---------------------------------------------------------------------------------------------------------


def test_the_last_four_digits_find_who_was_here_before(counter, make):
    case = make.case(owner=make.party(name="Bartola Kwe", phone="+441184960743"))
    found = counter.get("/people/search/?as=owner&owner-phone=0743", headers={"HX-Request": "true"})
    assert "Bartola Kwe" in says(found)
    assert "1 case" in says(found)
    assert f'value="{case.owner_id}"' in says(found)


def test_taking_a_known_customer_fills_in_name_and_address(counter, make):
    party = make.party(name="Bartola Kwe", address="7 Salt Lane", phone="+441184960743")
    response = sent(counter, take_owner=str(party.pk), owner__name="bar")
    assert response.context["form"].owner["name"].value() == "Bartola Kwe"
    assert "7 Salt Lane" in says(response)
    assert "0118 496 0743" in says(response)


def test_a_taken_customer_is_not_written_down_twice(counter, make):
    party = make.party(name="Bartola Kwe", phone="+441184960743")
    case = taken(counter, owner__known=str(party.pk), owner__name="Bartola Kwe", owner__email="kwe@example.com")
    assert case.owner == party
    assert Party.objects.get(pk=party.pk).email == "kwe@example.com"


def test_a_new_name_does_not_overwrite_the_customer_taken_from_the_list(counter, make):
    party = make.party(name="Bartola Kwe")
    response = sent(counter, owner__known=str(party.pk), owner__name="Somebody Different")
    assert response.status_code == 422
    party.refresh_from_db()
    assert party.name == "Bartola Kwe"


def test_without_scripts_the_known_customers_come_with_the_page(counter, make):
    make.party(name="Bartola Kwe", phone="+441184960743")
    response = sent(counter, find_owner="yes", owner__phone="0743", owner__name="")
    assert "Bartola Kwe" in says(response)
    assert not Case.objects.exists()


def test_bearer_and_payer_may_be_somebody_else(counter):
    case = taken(
        counter, brought="other", bearer__name="T. Arkwell", bearer__email="arkwell@example.com", pays="bearer",
        reference="RX-88", bare="on",
    )  # fmt: skip
    assert (case.bearer.name, case.payer.name, case.owner.name) == ("T. Arkwell", "T. Arkwell", "Orrin Vale")
    assert (case.reference, case.letterhead) == ("RX-88", False)


def test_two_customers_may_have_one_phone(counter, make):
    make.party(name="Bartola Kwe", phone="+441184960743")
    taken(counter)
    assert Party.objects.filter(phone="+441184960743").count() == 2


# --- said loudly ----------------------------------------------------------------------------------------------------


def kept(counter, **differs):
    typed = filled(**differs)
    return counter.post(f"/counter/drafts/{typed['once']}/", typed)


def test_a_serial_known_of_the_same_owner_is_a_returning_case(counter, make):
    item = make.item(serial="PW2M4711")
    response = kept(counter, owner__known=str(item.case.owner_id), item__0__serial="pw2m-4711")
    assert "Returning." in says(response)
    assert str(item.case) in says(response)


def test_a_serial_known_of_another_owner_asks_whose_it_is(counter, make):
    make.item(serial="PW2M4711")
    assert "Another owner's." in says(kept(counter, item__0__serial="PW2M 4711")).replace("&#x27;", "'")


def test_a_serial_of_our_own_stock_is_called_ours(counter, make):
    donor = codes.with_check(codes.stock_body("D", 1))
    Thing.objects.create(code=donor, kind=Thing.Kind.DONOR, words="Pelorus donor", serial_folded="PW2M4711")
    assert "Ours." in says(kept(counter, item__0__serial="PW2M4711"))


@pytest.mark.parametrize(
    ("told", "because"),
    [
        ({"item__0__behaviours": ["clicks"]}, "it clicks"),
        ({"told__stories": ["dropped"]}, "it was dropped"),
        ({"item__0__marks": ["screws"]}, "its screws are marked"),
        ({"told__tried": ["opened"]}, "it was opened before"),
    ],
)
def test_no_power_is_said_while_it_is_told(counter, told, because):
    response = says(kept(counter, **told))
    assert "<strong>No power</strong>" in response
    assert because in response


def test_a_healthy_stick_gets_no_such_warning(counter):
    assert "No power" not in says(kept(counter, item__0__kind="stick", item__0__behaviours=["normal"]))


def test_the_slip_says_back_what_is_typed(counter):
    told = {"accessories": "2 cables", "told__wanted": "! Letters", "terms__limit": "60"}
    response = says(kept(counter, item__0__serial="PW2M0O1I", **told))
    for words in ("Orrin Vale", "2.5″ disk", "PW2M0O1I", "2 × cables", "Letters (urgent)", "60.00 EUR"):
        assert words in response


# --- signing --------------------------------------------------------------------------------------------------------


def test_a_drawn_signature_is_kept_as_a_clean_png(counter):
    case = taken(counter, terms__how="screen", terms__signature=drawn())
    with Image.open(io.BytesIO(vault.get(case.signature))) as picture:
        assert (picture.format, picture.size) == ("PNG", (600, 200))
    assert (case.signed_by, case.signed_how, case.terms.version) == ("Orrin Vale", "screen", "1")


@pytest.mark.parametrize(
    "signature",
    [
        drawn(ink=False),
        drawn(kind="JPEG"),
        drawn((9_000, 10)),
        "data:image/svg+xml;base64,PHN2Zy8+",
        "data:image/png;base64,not base64",
        drawn()[:300],
        "data:image/png;base64," + "A" * 250_000,
    ],
    ids=["blank", "renamed", "too wide", "svg", "no base64", "cut off", "too long"],
)
def test_a_picture_that_is_no_signature_is_refused_with_a_sentence(counter, signature):
    response = sent(counter, terms__how="screen", terms__signature=signature, owner__name="Kept Name")
    assert response.status_code == 422
    assert "sign" in " ".join(wrong["said"] for wrong in response.context["wrongs"])
    assert "Kept Name" in says(response)
    assert not Case.objects.exists()


def test_a_mark_names_its_witness(counter):
    assert "who witnessed the mark" in says(sent(counter, terms__how="mark"))
    case = taken(counter, terms__how="mark", terms__witness="T. Arkwell")
    assert case.signed_by == "Orrin Vale, mark witnessed by T. Arkwell"


def test_nothing_is_signed_before_there_are_terms(make, client_as):
    response = client_as(Role.COUNTER).post(TAKE_IN, filled(owner__phone="+44 118 496 0743", terms__how="paper"))
    assert response.status_code == 422
    assert "no terms to sign yet" in says(response)


# --- what it costs --------------------------------------------------------------------------------------------------


def test_twenty_items_ask_no_more_questions_than_one(counter, django_assert_max_num_queries):
    many = items(*({"kind": "member", "serial": f"SERIAL{n:03d}"} for n in range(20)))
    with django_assert_max_num_queries(20):
        kept(counter, **many)


def test_the_counter_asks_as_many_questions_for_many_cases_as_for_few(counter, make, django_assert_num_queries):
    def fill(cases):
        for _ in range(cases):
            make.case(items=[make.new_item(behaviours=[])], signed=None, told=None)

    fill(2)
    with CaptureQueriesContext(
        connection,
    ) as few:
        counter.get("/counter/")
    fill(6)
    with django_assert_num_queries(len(few)):
        counter.get("/counter/")


def test_the_sections_of_a_docket_ask_as_many_questions_for_many_items(counter, make, django_assert_num_queries):
    few, many = (make.case(items=n, accessories=[("cable", 1), ("box", 1)]) for n in (2, 12))
    for section in (queries.items_section, queries.wanted_section):
        with CaptureQueriesContext(connection) as asked:
            section(few)
        with django_assert_num_queries(len(asked)):
            section(many)
