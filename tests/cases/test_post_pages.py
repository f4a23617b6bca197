"""The pages for what is not on the counter yet: enquiries, refusals, parcels."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from labcases.cases import actions
from labcases.cases.advice import ADVICE, PACKING
from labcases.cases.models import Case, Enquiry
from labcases.cases.words import UNKNOWN_SENDER
from labcases.custody.models import Event
from labcases.lab.roles import Role
from labcases.people.models import Party

ROW = {"kind-1": "disk35", "model-1": "Pelorus PL900", "count-1": "1"}
PARCEL = {"closed": "whole and dry", "opened": "padded, bagged"}
SENDER = {"owner-name": "Wren Halloway", "owner-phone": "0118 496 0743"}


def page(client, name: str, *args) -> str:
    answer = client.get(reverse(name, args=args))
    assert answer.status_code == 200, answer
    return answer.content.decode()


def sent(client, where: str, /, *args, **typed):
    return client.post(reverse(where, args=args), typed)


def enquired(make, noon, **about) -> Enquiry:
    about = {"name": "Orrin Vale"} | about
    return actions.enquire(by=make.everyone(), happened=noon, **about)


# --- enquiries --------------------------------------------------------------------------------------------------------


def test_the_standing_advice_stands_ready_to_be_read_out(make, client_as):
    shown = page(client_as(Role.COUNTER), "cases:enquire")
    assert all(sentence in shown for sentence in ADVICE.values())


def test_an_enquiry_keeps_what_was_ticked_and_the_price_in_minor_units(make, client_as):
    make.profile(currency="JPY")
    typed = {"name": "Orrin Vale", "ticked": ["stop", "wet"], "price_from": "20 000", "price_to": "60,000"}
    assert sent(client_as(Role.COUNTER), "cases:enquire", **typed).status_code == 303
    enquiry = Enquiry.objects.get()
    assert enquiry.advice == f"{ADVICE['stop']}\n{ADVICE['wet']}"
    assert (enquiry.price_from, enquiry.price_to) == (20_000, 60_000)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"name": ""}, "One name is enough."),
        ({"price_from": "600", "price_to": "200"}, "The upper price is not below the lower one."),
        ({"price_from": "-5"}, "A price is not below zero."),
        ({"price_to": "a lot"}, "is no amount of money"),
        ({"happened": "2999-01-01T10:00"}, "lies in the future"),
    ],
)
def test_what_is_wrong_with_an_enquiry_is_said_and_nothing_is_kept(make, client_as, typed, said):
    answer = sent(client_as(Role.COUNTER), "cases:enquire", **({"name": "Orrin Vale"} | typed))
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Enquiry.objects.exists()


def test_an_enquiry_leads_to_taking_in_and_to_expecting(make, client_as, noon):
    enquiry = enquired(make, noon, reach="vale@example.com", kind="stick", asked="It is not seen.")
    client = client_as(Role.COUNTER)
    shown = page(client, "cases:enquiry", enquiry.pk)
    for name in ("cases:take-in", "cases:expect"):
        assert f"{reverse(name)}?enquiry={enquiry.pk}" in shown
    carried = client.get(reverse("cases:expect"), {"enquiry": enquiry.pk}).content.decode()
    assert "vale@example.com" in carried
    assert "It is not seen." in carried
    assert '<option value="stick" selected>' in carried


def test_an_auditor_reads_an_enquiry_and_can_do_nothing_with_it(make, client_as, noon):
    enquiry, auditor = enquired(make, noon), client_as(Role.AUDITOR)
    assert reverse("cases:end-enquiry", args=[enquiry.pk]) not in page(auditor, "cases:enquiry", enquiry.pk)
    assert sent(auditor, "cases:end-enquiry", enquiry.pk, reason="x").status_code == 403


def test_ending_and_refusing_an_enquiry_are_said_on_its_page(make, client_as, noon):
    client = client_as(Role.COUNTER)
    dear, doubtful = enquired(make, noon), enquired(make, noon)
    assert sent(client, "cases:end-enquiry", dear.pk, reason="too dear").status_code == 303
    assert sent(client, "cases:refuse-enquiry", doubtful.pk, reason="no proof").status_code == 303
    assert "<strong>Ended</strong>: too dear" in page(client, "cases:enquiry", dear.pk)
    assert "<strong>Refused</strong>: no proof" in page(client, "cases:enquiry", doubtful.pk)
    assert sent(client, "cases:refuse-enquiry", doubtful.pk, reason="").status_code == 422


def test_an_enquiry_answered_meanwhile_is_said_on_the_form(make, client_as, noon):
    enquiry = enquired(make, noon)
    make.case(enquiry=enquiry)
    answer = sent(client_as(Role.COUNTER), "cases:end-enquiry", enquiry.pk, reason="too dear")
    assert answer.status_code == 422
    assert "not waiting any more" in answer.content.decode()


def test_a_refusal_at_the_counter_needs_its_reason(make, client_as):
    client = client_as(Role.COUNTER)
    assert sent(client, "cases:refuse", name="T. Arkwell").status_code == 422
    assert sent(client, "cases:refuse", name="T. Arkwell", reason="no proof").status_code == 303
    assert Enquiry.objects.get().state == Enquiry.State.REFUSED


def test_the_list_is_narrowed_sorted_and_exported(make, client_as, noon):
    enquired(make, noon, name="Orrin Vale", kind="stick", price_from=20_000)
    enquired(make, noon, name="Marsh Lane Choir", asked="a tape")
    actions.refuse(by=make.everyone(), happened=noon, name="T. Arkwell", reason="=no proof")
    client, address = client_as(Role.AUDITOR), reverse("cases:enquiries")
    assert "T. Arkwell" not in client.get(address, {"state": "open"}).content.decode()
    assert "Orrin" not in client.get(address, {"q": "tape choir"}).content.decode()
    by_name = client.get(address, {"sort": "name"}).content.decode()
    assert by_name.index("Marsh Lane") < by_name.index("Orrin") < by_name.index("T. Arkwell")
    exported = b"".join(client.get(address, {"format": "csv", "kind": "stick"}).streaming_content).decode()
    assert "Orrin Vale,,stick,waiting,200.00,,EUR" in exported
    assert "Arkwell" not in exported


def test_the_list_costs_the_same_for_two_or_thirty(make, client_as, noon):
    def cost() -> int:
        with CaptureQueriesContext(connection) as ran:
            assert client.get(reverse("cases:enquiries")).status_code == 200
        return len(ran)

    client = client_as(Role.AUDITOR)
    make.expected(enquiry=enquired(make, noon))
    few = cost()
    for _ in range(12):
        make.expected(enquiry=enquired(make, noon))
    assert cost() == few


# --- by post ---------------------------------------------------------------------------------------------------------


def test_expecting_gives_a_case_and_leads_to_its_packing_advice(make, client_as):
    client = client_as(Role.COUNTER)
    answer = sent(client, "cases:expect", **SENDER, **ROW, stories=["liquid"], story="Flood.")
    case = Case.objects.get()
    assert answer.url == reverse("cases:packing-slip", args=[str(case)])
    assert (case.owner.phone, case.stories, case.way) == ("+441184960743", ["liquid"], "post")
    assert PACKING[0] in page(client, "cases:packing-slip", str(case))


def test_several_alike_are_expected_as_items_of_their_own(make, client_as):
    more = {"kind-2": "other", "model-2": "a laser disc", "count-2": "1"}
    sent(client_as(Role.COUNTER), "cases:expect", **SENDER, **(ROW | {"kind-1": "member", "count-1": "8"}), **more)
    items = list(Case.objects.get().items.all())
    assert len(items) == 9
    assert (items[-1].kind_words, items[-1].model) == ("a laser disc", "")


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"kind-1": ""}, "Say what kind of thing it is"),
        ({"kind-1": "", "model-1": ""}, "at least one thing with its kind"),
        ({"owner-phone": ""}, "Say how to reach them"),
        ({"owner-name": ""}, "Say who it is"),
        ({"count-1": "61"}, "60"),
    ],
)
def test_what_is_missing_to_expect_something_is_said_and_nothing_is_made(make, client_as, typed, said):
    answer = sent(client_as(Role.COUNTER), "cases:expect", **(SENDER | ROW | typed))
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Case.objects.exists()
    assert not Party.objects.exists()


def test_pressing_twice_expects_once(make, client_as):
    client, once = client_as(Role.COUNTER), "8a8a8a8a-0000-4000-8000-000000000002"
    first, second = (sent(client, "cases:expect", **SENDER, **ROW, once=once) for _ in range(2))
    assert first.url == second.url
    assert Case.objects.count() == 1


def test_a_known_sender_is_taken_from_the_list_without_being_judged(make, client_as):
    known = make.party(name="Wren Halloway")
    answer = sent(client_as(Role.COUNTER), "cases:expect", take_owner=str(known.pk), **ROW)
    assert answer.status_code == 200
    assert known.email in answer.content.decode()


def test_the_packing_slip_is_printed_once_and_says_where_to(make, client_as):
    make.profile(address="4 Wharf Lane\nTidewater")
    case, client = make.expected(), client_as(Role.COUNTER)
    first, second = (sent(client, "cases:packing-slip", str(case)) for _ in range(2))
    assert first.status_code == 303
    assert first.url == second.url
    assert client.get(first.url).content.startswith(b"%PDF")
    make.profile(address="5 Wharf Lane\nTidewater")
    assert sent(client, "cases:packing-slip", str(case)).url != first.url


def test_a_parcel_is_found_by_what_stands_on_it(make, client_as):
    case = make.expected(owner=make.party(name="Wren Halloway"))
    other = make.expected()
    client = client_as(Role.COUNTER)
    for typed in ("halloway", str(case), case.items.get().serial):
        shown = client.get(reverse("cases:parcel"), {"q": typed}).content.decode()
        assert reverse("cases:arrive", args=[str(case)]) in shown
        assert str(other) not in shown


def test_taking_a_parcel_in_notes_what_came_and_what_it_suffered(make, client_as):
    case = make.expected(items=2)
    first = case.items.first()
    typed = PARCEL | {f"came-{first.pk}": "on", f"damage-{first.pk}": "connector torn", "accessories": "2 cables"}
    answer = sent(client_as(Role.COUNTER), "cases:arrive", str(case), **typed)
    assert answer.status_code == 303, answer.content.decode()
    assert list(case.items.values_list("stage", flat=True)) == ["received", "expected"]
    assert case.accessories.get().count == 2
    assert Event.objects.filter(kind="arrived-damaged", thing_code=first.thing.code).exists()


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"closed": ""}, "what the closed parcel looked like"),
        ({"opened": ""}, "how it lay in the opened box"),
        ({}, "Say what came"),
        ({"damage": "torn"}, "This item did not come"),
    ],
)
def test_a_parcel_that_is_not_described_is_not_taken_in(make, client_as, typed, said):
    case = make.expected()
    damage = {f"damage-{case.items.get().pk}": typed.pop("damage")} if "damage" in typed else {}
    answer = sent(client_as(Role.COUNTER), "cases:arrive", str(case), **(PARCEL | typed), **damage)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert case.items.get().stage == "expected"


def test_a_parcel_without_a_sender_waits_at_the_counter_until_it_is_known_whose_it_is(make, client_as):
    client = client_as(Role.COUNTER)
    sent(client, "cases:unknown-sender", **PARCEL, **ROW, written="Postmark Underford", damage="bent")
    case = Case.objects.get()
    assert case.owner.name == UNKNOWN_SENDER
    assert reverse("cases:whose", args=[str(case)]) in page(client, "docket:counter")
    assert "Postmark Underford" in page(client, "cases:whose", str(case))
    answer = sent(client, "cases:whose", str(case), **SENDER, because="named the serial")
    assert answer.url == case.get_absolute_url()
    assert Case.objects.get().owner.name == "Wren Halloway"
    assert reverse("cases:whose", args=[str(case)]) not in page(client, "docket:counter")


def test_an_item_that_will_not_come_is_ended_with_its_reason(make, client_as):
    case, client = make.expected(), client_as(Role.COUNTER)
    assert sent(client, "cases:never-came", str(case), 1, how="sent elsewhere").status_code == 422
    answer = sent(client, "cases:never-came", str(case), 1, how="sent elsewhere", because="another lab took it")
    assert answer.url == case.get_absolute_url()
    assert case.items.get().stage == "never came"
    assert client.get(reverse("cases:never-came", args=[str(case), 2])).status_code == 404


def test_the_counter_shows_what_is_expected_and_who_asked(make, client_as, noon):
    case, enquiry = make.expected(), enquired(make, noon)
    shown = page(client_as(Role.COUNTER), "docket:counter")
    assert reverse("cases:arrive", args=[str(case)]) in shown
    assert enquiry.get_absolute_url() in shown


@pytest.mark.parametrize("name", ["cases:enquire", "cases:refuse", "cases:expect", "cases:unknown-sender"])
def test_an_engineer_takes_nothing_in(make, client_as, name):
    assert client_as(Role.ENGINEER).get(reverse(name)).status_code == 403
