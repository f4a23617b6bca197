from __future__ import annotations

import re
import smtplib
from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from labcases.cases.models import Case
from labcases.lab.roles import Role
from labcases.updates.models import Message, Wording
from tests.builders import Make

ClientAs = Callable[..., Client]
Write = Callable[..., Message]
LETTER = {
    "to": "vale@example.com",
    "subject": "It is here",
    "body": "Dear Orrin,\n\nit is here.",
    "wording": "received",
}


def at(name: str, case: Case) -> str:
    return reverse(f"updates:{name}", args=[str(case)])


def text_of(response: Any) -> str:
    return str(response.content.decode())


def test_choosing_a_wording_fills_the_form(client_as: ClientAs, make: Make) -> None:
    case = make.case()
    page = text_of(client_as(Role.COUNTER).get(at("write", case), {"wording": "ready"}))
    assert f'value="{case}: it is ready"' in page
    assert "[[what it means for their data]]" in page
    assert '<option value="ready" selected>' in page


def test_a_letter_is_read_before_it_goes_and_nothing_is_kept_yet(client_as: ClientAs, make: Make) -> None:
    page = text_of(client_as(Role.COUNTER).post(at("read", make.case()), LETTER | {"body": "<b>Dear</b> ਗੁਰ"}))
    assert "&lt;b&gt;Dear&lt;/b&gt; ਗੁਰ" in page
    assert "mailto:vale@example.com?subject=It%20is%20here" in page
    assert not Message.objects.exists()


def test_sending_puts_it_into_the_outbox_and_shows_the_docket(client_as: ClientAs, make: Make) -> None:
    case = make.case()
    response = client_as(Role.COUNTER).post(at("write", case), LETTER | {"once": uuid4()})
    assert (response.status_code, response["Location"]) == (303, f"{case.get_absolute_url()}#messages")
    assert Message.objects.get().state == "waiting"
    assert mail.outbox == []


def test_a_press_twice_sends_one_mail(client_as: ClientAs, make: Make) -> None:
    client, case, sent = client_as(Role.COUNTER), make.case(), LETTER | {"once": uuid4()}
    assert [client.post(at("write", case), sent).status_code for _ in range(2)] == [303, 303]
    assert Message.objects.count() == 1


def test_the_one_time_key_goes_along_from_writing_to_reading_to_sending(client_as: ClientAs, make: Make) -> None:
    client, case = client_as(Role.COUNTER), make.case()
    once = re.compile(r'name="once" value="([0-9a-f-]{36})"')
    key = once.search(text_of(client.get(at("write", case))))
    assert key is not None
    for name in ("read", "change"):
        again = once.search(text_of(client.post(at(name, case), LETTER | {"once": key[1]})))
        assert again is not None
        assert again[1] == key[1]


def test_back_from_reading_everything_stands_as_typed(client_as: ClientAs, make: Make) -> None:
    page = text_of(client_as(Role.COUNTER).post(at("change", make.case()), LETTER | {"subject": "Half a th"}))
    assert 'value="Half a th"' in page
    assert "it is here." in page


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"to": "orrin"}, "This is no e-mail address."),
        ({"to": ""}, "To is needed."),
        ({"subject": "x" * 301}, "at most 300 characters"),
        ({"body": "We found [[what was found]]."}, "Still to be written: what was found."),
    ],
)
def test_what_is_wrong_is_said_and_nothing_typed_is_lost(
    client_as: ClientAs, make: Make, wrong: dict[str, str], says: str
) -> None:
    response = client_as(Role.COUNTER).post(at("read", make.case()), LETTER | {"wording": "ready"} | wrong)
    assert response.status_code == 422
    assert says in text_of(response)
    assert all(value in text_of(response) for value in wrong.values())


@pytest.mark.parametrize("name", ["read", "change"])
def test_reading_without_a_letter_leads_back_to_writing(client_as: ClientAs, make: Make, name: str) -> None:
    case = make.case()
    assert client_as(Role.COUNTER).get(at(name, case))["Location"] == at("write", case)


@pytest.mark.parametrize("again", ["", "0", "x", "-1", "9" * 40, "١"])
def test_an_earlier_mail_that_is_none_begins_a_fresh_one(client_as: ClientAs, make: Make, again: str) -> None:
    assert client_as(Role.COUNTER).get(at("write", make.case()), {"again": again}).status_code == 200


def test_a_mail_of_another_case_is_not_taken_over(client_as: ClientAs, make: Make, write: Write) -> None:
    other = write(subject="Not for you")
    page = text_of(client_as(Role.COUNTER).get(at("write", make.case()), {"again": str(other.pk)}))
    assert "Not for you" not in page


def test_a_failed_mail_is_written_again_with_its_words(client_as: ClientAs, write: Write) -> None:
    failed = write(subject="To the wrong one")
    page = text_of(client_as(Role.COUNTER).get(at("write", failed.case), {"again": str(failed.pk)}))
    assert 'value="To the wrong one"' in page


def test_a_lost_log_in_brings_the_letter_back(client: Client, make: Make) -> None:
    case, person = make.case(), make.staff()
    assert client.post(at("write", case), LETTER).status_code == 302
    session = client.session
    held = dict(session)
    client.force_login(person)
    session = client.session
    session.update(held)
    session.save()
    page = text_of(client.get(at("write", case)))
    assert 'value="It is here"' in page
    assert not Message.objects.exists()


def test_a_call_is_noted_in_one_small_form(client_as: ClientAs, make: Make) -> None:
    said = {"channel": "phone", "incoming": "yes", "with_whom": "Orrin", "body": "Asks.", "agreed": "Friday."}
    case = make.case()
    response = client_as(Role.COUNTER).post(at("note", case), said)
    assert response.status_code == 303
    note = Message.objects.get()
    assert (note.incoming, note.state, note.agreed) == (True, "noted", "Friday.")
    assert "Agreed: Friday." in text_of(client_as(Role.AUDITOR).get(case.get_absolute_url()))


def test_the_docket_says_what_failed_and_offers_to_try_again(client_as: ClientAs, write: Write) -> None:
    message = write()
    Message.objects.filter(pk=message.pk).update(state="failed", error="The mail server refuses this address.")
    address = message.case.get_absolute_url()
    page = text_of(client_as(Role.COUNTER).get(address))
    assert "The mail server refuses this address." in page
    assert reverse("updates:try-again", args=[message.pk]) in page
    assert "try-again" not in text_of(client_as(Role.AUDITOR).get(address))


@pytest.mark.parametrize(("verb", "state"), [("try-again", "waiting"), ("leave-unsent", "unsent")])
def test_the_button_decides_and_a_second_press_harms_nothing(
    client_as: ClientAs, write: Write, verb: str, state: str
) -> None:
    message, client = write(), client_as(Role.COUNTER)
    Message.objects.filter(pk=message.pk).update(state="failed")
    address = reverse(f"updates:{verb}", args=[message.pk])
    assert client.post(address).status_code == 303
    assert client.post(address).status_code in (303, 409)
    assert Message.objects.get(pk=message.pk).state == state


def test_looking_at_a_buttons_address_presses_nothing(client_as: ClientAs, write: Write) -> None:
    message = write()
    client_as(Role.COUNTER).get(reverse("updates:leave-unsent", args=[message.pk]))
    assert Message.objects.get(pk=message.pk).state == "waiting"


@pytest.mark.parametrize("name", ["write", "read", "change", "note"])
def test_an_auditor_reads_but_tells_nobody(client_as: ClientAs, make: Make, name: str) -> None:
    assert client_as(Role.AUDITOR).get(at(name, make.case())).status_code == 403


def test_the_list_narrows_by_state_and_by_case(client_as: ClientAs, write: Write) -> None:
    write(subject="Waits here")
    failed = write(subject="Failed there")
    Message.objects.filter(pk=failed.pk).update(state="failed")
    client, address = client_as(Role.AUDITOR), reverse("updates:messages")
    assert "Waits here" not in text_of(client.get(address, {"state": "failed"}))
    assert "Failed there" in text_of(client.get(address, {"q": str(failed.case).lower()}))
    assert "No message fits" in text_of(client.get(address, {"q": "zzz"}))
    assert client.get(address, {"state": "nonsense", "page": "x"}).status_code == 200


def test_the_list_goes_out_as_csv_without_formulas(client_as: ClientAs, write: Write) -> None:
    write(subject="=1+1")
    response = client_as(Role.AUDITOR).get(reverse("updates:messages"), {"format": "csv"})
    assert "'=1+1" in b"".join(response).decode()


def test_the_list_takes_the_same_queries_for_one_row_and_for_a_full_page(
    client_as: ClientAs, write: Write, django_assert_max_num_queries: Any
) -> None:
    client, first = client_as(Role.AUDITOR), write()
    address = reverse("updates:messages")
    client.get(address)
    with django_assert_max_num_queries(20) as few:
        client.get(address)
    rows = [Message(case=first.case, channel="email", state="unsent", with_whom="a", subject=str(n), by=first.by,
                    role="counter", happened=first.happened) for n in range(120)]  # fmt: skip
    Message.objects.bulk_create(rows)
    with django_assert_max_num_queries(20) as many:
        client.get(address)
    assert len(many) == len(few)


def test_a_manager_changes_a_wording_and_an_unknown_gap_is_named(client_as: ClientAs) -> None:
    client, address = client_as(Role.MANAGER), reverse("updates:wording", args=["ready", "en"])
    said = {"title": "Ready", "subject": "{case}", "body": "Dear {readr}", "in_use": "on"}
    assert "Did you mean {reader}?" in text_of(client.post(address, said))
    assert client.post(address, said | {"body": "Dear {reader}"}).status_code == 303
    assert Wording.objects.get().body == "Dear {reader}"


def test_a_wording_is_added_in_another_language_once(client_as: ClientAs) -> None:
    client, address = client_as(Role.MANAGER), reverse("updates:new-wording")
    said = {"title": "Bereit", "stands_for": "ready", "language": "de", "subject": "x", "body": "y", "in_use": "on"}
    assert client.post(address, said).status_code == 303
    assert "exists in that language" in text_of(client.post(address, said))


def test_counter_staff_read_wordings_and_change_none(client_as: ClientAs) -> None:
    client, address = client_as(Role.COUNTER), reverse("updates:wording", args=["ready", "en"])
    assert "Keep this wording" not in text_of(client.get(address))
    assert client.post(address, {}).status_code == 403


def test_a_wording_that_is_none_is_not_found(client_as: ClientAs) -> None:
    assert client_as(Role.MANAGER).get(reverse("updates:wording", args=["nothing", "en"])).status_code == 404


def test_a_test_mail_says_whether_it_went(client_as: ClientAs, server_says: Callable[..., None], make: Make) -> None:
    client, address = client_as(Role.MANAGER), reverse("updates:test-mail")
    assert "took a test mail for me@example.com" in text_of(client.post(address, {"to": "me@example.com"}))
    server_says(smtplib.SMTPServerDisconnected("gone"))
    response = client.post(address, {"to": "me@example.com"})
    assert response.status_code == 422
    assert "hung up" in text_of(response)


def test_the_office_shows_what_is_unsent_and_who_waits_for_a_word(
    client_as: ClientAs, write: Write, make: Make
) -> None:
    write(subject="Still here")
    silent = make.case()
    page = text_of(client_as(Role.MANAGER).get(reverse("docket:office")))
    assert "Still here" in page
    assert f"{at('write', silent)}?wording=quiet" in page
