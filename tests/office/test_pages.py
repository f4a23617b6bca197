"""The pages of the office: quotes as they are typed, answers, money, and the list of quotes."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from labcases.lab.roles import Role
from labcases.office.actions import send_quote
from labcases.office.models import Payment, Quote, Settlement
from labcases.office.queries import balance_of

QUOTE = {"words-1": "Copying", "amount-1": "1,234.50", "tax_rate": "20", "valid_until": "2099-01-31"}


def at(verb: str, case) -> str:
    return reverse(f"office:{verb}", args=[str(case)])


def test_a_quote_is_typed_as_people_write_money(make, client_as):
    case = make.examined()
    answer = client_as(Role.MANAGER).post(at("quote", case), QUOTE | {"words-2": "Parts", "amount-2": "99,5"})
    assert answer.status_code == 303
    quote = Quote.objects.get()
    assert (quote.net, quote.tax, quote.total) == (133_400, 26_680, 160_080)
    page = client_as(Role.AUDITOR).get(case.get_absolute_url()).content.decode()
    assert "1,600.80 EUR" in page


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"words-1": "", "amount-1": ""}, "A quote has at least one line"),
        ({"amount-1": ""}, "Say what this line costs; 0 when it is free."),
        ({"words-1": ""}, "Say what this amount is for."),
        ({"amount-1": "-5"}, "cannot be less than nothing"),
        ({"amount-1": "1.234"}, "can be read in two ways"),
        ({"tax_rate": "101"}, "100"),
        ({"valid_until": "2001-01-01"}, "This day has passed."),
    ],
)
def test_what_is_wrong_with_a_quote_is_said_and_what_was_typed_stands(make, client_as, wrong, said):
    case = make.examined()
    answer = client_as(Role.MANAGER).post(at("quote", case), QUOTE | {"success": "the letters"} | wrong)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert "the letters" in answer.content.decode()
    assert not Quote.objects.exists()


def test_a_case_that_is_not_examined_is_not_quoted_and_the_page_says_why(make, client_as):
    answer = client_as(Role.MANAGER).post(at("quote", make.case()), QUOTE)
    assert answer.status_code == 422
    assert "No item of this case waits for a price." in answer.content.decode()


def test_whoever_quotes_sees_the_findings_and_what_is_wanted(make, client_as):
    page = client_as(Role.MANAGER).get(at("quote", make.examined())).content.decode()
    assert "unstable reading" in page
    assert "Photographs" in page


def test_a_free_line_is_a_line(make, client_as):
    client_as(Role.MANAGER).post(at("quote", make.examined()), QUOTE | {"amount-1": "0"})
    assert Quote.objects.get().total == 0


def test_an_answer_is_noted_once(make, client_as):
    case = make.examined()
    client_as(Role.MANAGER).post(at("quote", case), QUOTE)
    client, yes = client_as(Role.COUNTER), {"answer": "yes", "who": "Orrin Vale", "how": "by phone at 10:40"}
    assert client.post(at("answer", case), {"answer": "yes"}).status_code == 422
    assert client.post(at("answer", case), yes).status_code == 303
    again = client.post(at("answer", case), yes)
    assert again.status_code == 422
    assert "does not wait for an answer: it is accepted" in again.content.decode()


def test_a_case_without_a_quote_has_nothing_to_answer(make, client_as):
    answer = client_as(Role.COUNTER).get(at("answer", make.case()))
    assert answer.status_code == 404
    assert "has no quote to answer" in answer.content.decode()


def test_a_price_over_the_limit_is_said_and_nothing_is_quoted(make, client_as):
    case = make.examined()  # 60.00 EUR was agreed
    answer = client_as(Role.COUNTER).post(at("within-limit", case), QUOTE)
    assert answer.status_code == 422
    assert "Agreed: 60.00 EUR." in answer.content.decode()
    assert not Quote.objects.exists()
    within = client_as(Role.COUNTER).post(at("within-limit", case), QUOTE | {"amount-1": "50"})
    assert within.status_code == 303
    assert Quote.objects.get().state == Quote.State.ACCEPTED


def test_a_payment_starts_with_the_balance_and_lowers_it(make, client_as):
    case = make.worked(make.case(), price=30_000)
    client = client_as(Role.COUNTER)
    assert 'value="300.00"' in client.get(at("payment", case)).content.decode()
    assert client.post(at("payment", case), {"amount": "100", "method": "cash"}).status_code == 303
    assert balance_of(case) == 20_000
    assert client.post(at("payment", case), {"amount": "0", "method": "cash"}).status_code == 422
    assert client.post(at("payment", case), {"amount": "-100", "method": "cash"}).status_code == 303
    assert balance_of(case) == 30_000


def test_pressing_twice_takes_the_money_once(make, client_as):
    case, client = make.worked(make.case()), client_as(Role.COUNTER)
    sent = {"amount": "100", "method": "card", "once": "8a8a8a8a-0000-4000-8000-000000000004"}
    first, second = (client.post(at("payment", case), sent) for _ in range(2))
    assert first.url == second.url
    assert Payment.objects.count() == 1


def test_waiving_needs_a_reason_and_a_manager(make, client_as):
    case = make.worked(make.case())
    assert client_as(Role.COUNTER).get(at("settle", case)).status_code == 403
    manager = client_as(Role.MANAGER)
    assert manager.post(at("settle", case), {"how": "waived"}).status_code == 422
    assert manager.post(at("settle", case), {"how": "waived", "because": "our fault"}).status_code == 303
    assert Settlement.objects.get().because == "our fault"
    assert balance_of(case) == 0


def test_the_office_shows_what_waits_for_whom(make, client_as):
    to_quote, owed = make.examined(), make.worked(make.case(), price=30_000)
    page = client_as(Role.MANAGER).get(reverse("docket:office")).content.decode()
    assert at("quote", to_quote) in page
    assert str(owed) in page
    assert "300.00 EUR" in page


def test_the_list_of_quotes_is_narrowed_and_exported(make, client_as, noon):
    first, second = make.examined(), make.worked(make.case(), price=30_000)
    send_quote(case=first, lines=[("Work", 10_000)], by=make.everyone(), happened=noon)
    client, address = client_as(Role.AUDITOR), reverse("office:quotes")
    page = client.get(address, {"state": "sent"}).content.decode()
    assert f"{first}/1" in page
    assert f"{second}/1" not in page
    assert f"{second}/1" in client.get(address, {"q": str(second)}).content.decode()
    exported = b"".join(client.get(address, {"format": "csv"}).streaming_content).decode()
    assert f"{second}/1" in exported
    assert ",accepted,300.00,EUR," in exported


def test_the_list_of_quotes_costs_the_same_for_one_or_twenty(make, client_as):
    def cost() -> int:
        with CaptureQueriesContext(connection) as ran:
            assert client.get(reverse("office:quotes")).status_code == 200
        return len(ran)

    client = client_as(Role.AUDITOR)
    make.worked(make.case())
    one = cost()
    for _ in range(9):
        make.worked(make.case())
    assert cost() == one


def test_the_front_of_the_office_costs_the_same_for_one_or_nine(make, client_as):
    def cost() -> int:
        with CaptureQueriesContext(connection) as ran:
            assert client.get(reverse("docket:office")).status_code == 200
        return len(ran)

    client = client_as(Role.MANAGER)
    make.worked(make.case())
    make.examined()
    one = cost()
    for _ in range(4):
        make.worked(make.case())
        make.examined()
    assert cost() == one
