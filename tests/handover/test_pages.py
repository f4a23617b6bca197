"""The pages of the handover: what they show, what they refuse, and that nothing typed is lost."""

from __future__ import annotations

import base64
import io

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image, ImageDraw

from labcases.cases.actions import dispute
from labcases.cases.models import Case
from labcases.cases.stages import Stage
from labcases.core import vault
from labcases.custody.models import Event
from labcases.handover.actions import due_back
from labcases.handover.models import Handover
from labcases.lab.roles import Role
from labcases.paper.models import Paper
from labcases.stock.models import Destination

ONCE = "8a8a8a8a-0000-4000-8000-00000000000{}"


def drawn() -> str:
    """A stroke, as the signature field sends it."""
    picture, out = Image.new("RGB", (200, 80), "white"), io.BytesIO()
    ImageDraw.Draw(picture).line([10, 60, 80, 20, 180, 50], fill="black", width=3)
    picture.save(out, "PNG")
    return "data:image/png;base64," + base64.b64encode(out.getvalue()).decode()


def filled(case: Case, **about: str) -> dict[str, str]:
    """What the page sends when everything goes out, signed on paper."""
    fates = {f"fate-{thing.code}": "out" for thing in due_back(case)}
    plain = {"manner": "collected", "collector": "owner", "collector_name": "Orrin Vale", "proof": "known"}
    return {**plain, "on_paper": "on", **fates, **about}


def page(name: str, case: Case) -> str:
    return reverse(f"handover:{name}", args=[str(case)])


@pytest.fixture
def case(make):
    return make.paid(make.worked(make.case()))


@pytest.fixture
def counter(client_as):
    return client_as(Role.COUNTER)


def said(answer) -> str:
    return " ".join(answer.content.decode().split())


def test_a_case_is_handed_over_at_the_counter_and_its_report_is_one_press_away(case, counter):
    answer = counter.post(page("hand-over", case), filled(case))
    assert (answer.status_code, answer.url) == (303, page("report", case))
    assert "Print handover report" in said(counter.get(answer.url))
    shown = counter.post(answer.url, {"number": "1"})
    assert shown.url == Paper.objects.get().get_absolute_url()
    assert "Open handover report 1" in said(counter.get(page("report", case)))


def test_pressing_twice_hands_over_once(case, counter):
    sent = filled(case, once=ONCE.format(1))
    first, second = (counter.post(page("hand-over", case), sent) for _ in range(2))
    assert first.url == second.url
    assert Handover.objects.count() == 1


def test_a_stale_page_is_told_that_the_thing_is_gone(case, counter):
    sent = filled(case)
    counter.post(page("hand-over", case), sent)
    answer = counter.post(page("hand-over", case), sent)
    assert answer.status_code == 422
    assert Handover.objects.count() == 1


def test_what_stops_it_stands_on_top_with_links_that_lift_it(make, noon, counter, client_as):
    case = make.worked(make.case())
    dispute(case=case, by=make.everyone(), happened=noon, because="A brother says that it is his.")
    shown = said(counter.get(page("hand-over", case)))
    assert "This case may not leave yet" in shown
    assert reverse("office:payment", args=[str(case)]) in shown
    assert reverse("office:settle", args=[str(case)]) not in shown
    assert "Settle the dispute" in said(client_as(Role.MANAGER).get(page("hand-over", case)))


def test_unpaid_is_refused_in_a_sentence_and_nothing_typed_is_lost(make, counter):
    case = make.worked(make.case())
    answer = counter.post(page("hand-over", case), filled(case, collector_name="Ines Garrow", seals="QS-1, QS-2"))
    assert answer.status_code == 422
    assert "There is money to settle." in said(answer)
    assert 'value="Ines Garrow"' in said(answer)
    assert 'value="QS-1, QS-2"' in said(answer)
    assert not Handover.objects.exists()


@pytest.mark.parametrize(
    ("about", "sentence"),
    [
        ({"on_paper": ""}, "Nothing leaves unsigned."),
        ({"collector_name": ""}, "Say who collects it."),
        ({"collector_name": "x" * 301}, "at most 300 characters"),
        ({"collector": "other"}, "Somebody else collects with the owner’s word: say how it was given."),
        ({"manner": "posted", "carrier": "Grey Goose Post"}, "A parcel goes tracked: note its number."),
        ({"manner": "posted", "tracking": "TR-1"}, "Say who takes the parcel."),
        ({"proof": "a library card"}, "is not one of the available choices"),
        ({"signature": "data:image/png;base64,AAAA"}, "no picture we can keep"),
        ({"happened": "2199-01-01T12:00"}, "lies in the future"),
        ({"seals": "S" * 61}, "Up to 30 numbers of 60 characters each, with commas between."),
    ],
)
def test_each_mistake_has_its_sentence(case, counter, about, sentence):
    answer = counter.post(page("hand-over", case), filled(case, **about))
    assert answer.status_code == 422
    assert sentence in said(answer).replace("&#x27;", "'")
    assert not Handover.objects.exists()


def test_an_uncounted_thing_is_named_beside_its_row(make, counter):
    case = make.paid(make.worked(make.case(accessories=[("USB cable", 1)])))
    cable = due_back(case)[1]
    sent = filled(case)
    del sent[f"fate-{cable.code}"]
    answer = counter.post(page("hand-over", case), sent)
    assert f"{cable}, USB cable</a>: Not counted yet: say what becomes of it." in said(answer)


def test_pieces_are_counted_and_a_difference_is_explained(make, counter):
    case = make.paid(make.worked(make.case(accessories=[("screws", 4)])))
    screws = due_back(case)[1].code
    address = page("hand-over", case)
    assert "Count them: 4 came in." in said(counter.post(address, filled(case)))
    short = filled(case, **{f"count-{screws}": "3"})
    assert "4 came in, 3 counted back: say why." in said(counter.post(address, short))
    assert counter.post(address, {**short, f"note-{screws}": "one was worn"}).status_code == 303


def test_an_item_in_work_can_only_stay_for_later(make, counter):
    case = make.case(items=2)
    first, second = case.items.all()
    make.paid(make.worked(case, first))
    shown = said(counter.get(page("hand-over", case)))
    assert "Its work is not at an end, so it stays here for now." in shown
    sent = filled(case, **{f"fate-{second.thing.code}": "out"})
    assert "is not one of the available choices" in said(counter.post(page("hand-over", case), sent))
    assert counter.post(page("hand-over", case), {**sent, f"fate-{second.thing.code}": "later"}).status_code == 303


def test_the_delivery_medium_is_ticked_and_goes(make, counter):
    case = make.case()
    medium = make.delivery(case.items.get())
    make.paid(make.worked(case))
    address = page("hand-over", case)
    assert f"not among what goes out: {medium}" in said(counter.post(address, filled(case)))
    assert counter.post(address, filled(case, **{f"out-{medium.thing.code}": "on"})).status_code == 303
    assert Destination.objects.get(pk=medium.pk).state == Destination.State.GONE


def test_a_drawn_signature_is_kept_in_the_vault(case, counter):
    counter.post(page("hand-over", case), filled(case, on_paper="", signature=drawn()))
    made = Handover.objects.get()
    assert made.signed_how == "screen"
    assert vault.get(made.signature).startswith(b"\x89PNG")


def test_other_alphabets_and_control_characters_are_taken_as_they_are_or_left_out(case, counter):
    counter.post(page("hand-over", case), filled(case, collector_name="ਗੁਰਪ੍ਰੀਤ \x00\x07ਸਿੰਘ"))
    assert Handover.objects.get().collector_name == "ਗੁਰਪ੍ਰੀਤ ਸਿੰਘ"


@pytest.mark.parametrize("name", ["hand-over", "report"])
def test_a_mistyped_or_foreign_code_is_no_page(make, counter, name):
    item = make.item()
    assert counter.get(reverse(f"handover:{name}", args=["26-00001-?"])).status_code == 404
    assert counter.get(reverse(f"handover:{name}", args=[str(item)])).status_code == 404


def test_the_receipt_to_sign_is_printed_from_the_page(case, counter):
    answer = counter.post(page("receipt", case), filled(case))
    assert answer.url == Paper.objects.get(kind="handover-receipt").get_absolute_url()


@pytest.mark.parametrize("number", ["7", "x", "99999"])
def test_a_handover_that_never_was_has_no_report(case, counter, number):
    counter.post(page("hand-over", case), filled(case))
    assert counter.post(page("report", case), {"number": number}).status_code == 404
    assert not Paper.objects.exists()


def test_a_report_before_the_handover_is_refused_in_a_sentence(case, counter):
    answer = counter.post(page("report", case))
    assert answer.status_code == 409
    assert "has been handed over yet" in said(answer)


@pytest.mark.parametrize("role", [Role.ENGINEER, Role.AUDITOR])
def test_who_may_only_look_sees_the_page_and_presses_nothing(case, client_as, role):
    client = client_as(role)
    assert client.get(page("hand-over", case)).status_code == 200
    for name in ("hand-over", "report", "receipt"):
        assert client.post(page(name, case), filled(case)).status_code == 403
    assert not Handover.objects.exists()


# --- on other pages -------------------------------------------------------------------------------------------------


def test_the_counter_sees_who_may_come_with_phone_and_what_is_owed(make, client_as):
    due, done = make.worked(make.case(owner=make.party(name="Ada Marsh", phone="+441184960232"))), make.case()
    shown = said(client_as(Role.COUNTER).get(reverse("docket:counter")))
    part = shown[shown.index('id="due-to-collect"') :]
    assert all(word in part for word in (str(due), "Ada Marsh", "0118 496 0232", "300.00 EUR", "money"))
    assert str(done) not in part[: part.index("</table>")]


def test_the_docket_says_what_was_handed_over(case, counter):
    counter.post(page("hand-over", case), filled(case))
    shown = said(counter.get(case.get_absolute_url()))
    assert 'id="handover"' in shown
    assert "Orrin Vale" in shown[shown.index('id="handover"') :]


def test_the_part_of_the_counter_costs_the_same_for_two_or_twenty(make):
    from labcases.handover.queries import due_to_collect

    def cost() -> int:
        with CaptureQueriesContext(connection) as ran:
            found = due_to_collect(None)
            assert found.rows
        return len(ran)

    make.worked(make.case(items=2))
    few = cost()
    for _ in range(8):
        make.worked(make.case())
    assert cost() == few


@pytest.mark.parametrize("name", ["hand-over", "report"])
def test_the_pages_cost_the_same_for_one_or_twenty_things(make, counter, name):
    def cost(case: Case) -> int:
        with CaptureQueriesContext(connection) as ran:
            assert counter.get(page(name, case)).status_code == 200
        return len(ran)

    small = make.worked(make.case(accessories=[("cable", 1)]))
    large = make.worked(make.case(items=4, accessories=[(f"thing {n}", 1) for n in range(16)]))
    assert cost(small) == cost(large)


def test_gathering_a_report_costs_the_same_for_one_item_or_five(make, counter):
    from labcases.handover.queries import report_of

    def cost(items: int) -> int:
        case = make.paid(make.worked(make.case(items=items)))
        counter.post(page("hand-over", case), filled(case))
        with CaptureQueriesContext(connection) as ran:
            report_of(case.handovers.get(), by=make.everyone())
        return len(ran)

    assert cost(1) == cost(5)


# --- while you wait -------------------------------------------------------------------------------------------------

VISIT = {
    "name": "Ada Marsh",
    "phone": "0118 496 0232",
    "kind": "card",
    "model": "Stub Card 64",
    "serial": "SC64-00123",
    "marks": ["nothing"],
    "stories": ["deleted"],
    "wanted": "Photographs of Sunday",
    "price": "45",
    "paid": "cash",
    "faults": ["deleted"],
    "found": "Directory entries marked as deleted; contents whole.",
    "done": "Entries read again.",
    "state": "whole",
    "file_count": "312",
    "byte_count": "2 147 483 648",
    "compared": "sampled",
    "carrier": "the customer’s own stick",
    "proof": "known",
    "sample_opened": "on",
    "on_paper": "on",
}
WAIT = "/handover/while-you-wait/"


@pytest.fixture
def one_person(make, client_as):
    make.profile(currency="EUR", country="GB", tax_rate=2_000)
    make.terms()
    return client_as()


def test_a_card_comes_in_and_goes_out_with_one_press(one_person):
    answer = one_person.post(WAIT, VISIT)
    assert answer.status_code == 303, said(answer)
    case = Case.objects.get()
    item = case.items.get()
    assert answer.url == page("report", case)
    assert (item.stage, case.way) == (Stage.CLOSED, "wait")
    assert case.intake_finished
    assert case.payments.get().amount == 5_400
    assert item.thing.party == case.owner
    assert one_person.post(answer.url, {"number": "1"}).status_code == 303
    assert Paper.objects.get().kind == "handover-report"


def test_each_step_is_recorded_in_the_role_that_may_do_it(one_person):
    one_person.post(WAIT, VISIT)
    roles = dict(Event.objects.filter(kind__in=["received", "examined", "checked"]).values_list("kind", "role"))
    assert roles == {"received": "counter", "examined": "engineer", "checked": "engineer"}
    assert Event.objects.get(kind="handed-over").role == "counter"


def test_counter_and_engineer_in_one_person_are_enough(make, one_person, client_as):
    assert client_as(Role.COUNTER, Role.ENGINEER).post(WAIT, VISIT).status_code == 303


@pytest.mark.parametrize(
    ("role", "sentence"),
    [
        (Role.COUNTER, "your roles do not let you examine and work at the bench."),
        (Role.MANAGER, "your roles do not let you examine and work at the bench."),
        (Role.ENGINEER, "Your roles do not let you take in."),
    ],
)
def test_a_missing_role_is_refused_in_a_sentence(one_person, client_as, role, sentence):
    for answer in (client_as(role).get(WAIT), client_as(role).post(WAIT, VISIT)):
        assert answer.status_code == 403
        assert sentence in said(answer)
    assert not Case.objects.exists()


@pytest.mark.parametrize(
    ("about", "sentence"),
    [
        ({"phone": ""}, "Say how to reach them"),
        ({"paid": ""}, "nothing leaves unpaid"),
        ({"state": "partial"}, "Say what they did not get, and why"),
        ({"on_paper": ""}, "One signature stands for the terms and for the handover."),
        ({"price": "lots"}, "lots"),
        ({"stories": []}, "Ask what happened"),
        ({"file_count": "-1"}, "greater than or equal to 0"),
        ({"byte_count": "9" * 30}, "less than or equal to"),
    ],
)
def test_a_visit_with_a_mistake_leaves_nothing_behind(one_person, about, sentence):
    answer = one_person.post(WAIT, {**VISIT, **about})
    assert answer.status_code == 422
    assert sentence in said(answer)
    assert "Photographs of Sunday" in said(answer)
    assert not Case.objects.exists()
    assert not Event.objects.exclude(kind="lab-changed").exists()


def test_without_terms_nothing_is_taken_in(make, client_as):
    answer = client_as().post(WAIT, VISIT)
    assert answer.status_code == 422
    assert "no terms to sign yet" in said(answer)
    assert not Case.objects.exists()


def test_a_visit_pressed_twice_is_one_case(one_person):
    for _ in range(2):
        assert one_person.post(WAIT, {**VISIT, "once": ONCE.format(2)}).status_code == 303
    assert Case.objects.count() == 1


def test_what_is_free_needs_no_payment(one_person):
    assert one_person.post(WAIT, {**VISIT, "price": "0", "paid": ""}).status_code == 303
    assert not Case.objects.get().payments.exists()


def test_a_returning_customer_is_not_written_down_twice(make, one_person):
    known = make.party(name="Ada Marsh", phone="+441184960232")
    one_person.post(WAIT, VISIT)
    assert Case.objects.get().owner == known
