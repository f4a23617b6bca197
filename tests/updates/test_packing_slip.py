"""The packing slip goes to the customer as a mail: its advice as the text, the slip itself as a PDF."""

from __future__ import annotations

import pytest
from django.core import mail

from labcases.cases.papers import print_packing_slip
from labcases.core import vault
from labcases.lab.roles import Role
from labcases.paper.models import Paper
from labcases.updates import tasks
from labcases.updates.actions import NotOfThisCase, send_update
from labcases.updates.models import Message
from tests.builders import NOON

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def counter(make, client_as):
    make.profile(email="desk@lab.example.com", address="1 Quay")
    return client_as(Role.COUNTER)


@pytest.fixture
def case(make):
    return make.expected(owner=make.party(name="Orrin Vale", email="vale@example.com"))


def typed(**differs):
    return {"to": "vale@example.com", "subject": "Your parcel", "body": "Pack it soft."} | differs


def test_the_page_proposes_the_advice_and_the_owners_address(counter, case):
    page = counter.get(f"/updates/{case}/packing-slip/").content.decode()
    assert 'value="vale@example.com"' in page
    assert "We are expecting your parcel" in page
    assert f"/updates/{case}/packing-slip/" in counter.get(f"/cases/{case}/packing-slip/").content.decode()
    assert not Paper.objects.exists()


def test_sending_prints_the_slip_and_the_worker_sends_it_along(counter, case):
    assert counter.post(f"/updates/{case}/packing-slip/", typed()).status_code == 303
    slip, message = Paper.objects.get(), Message.objects.get()
    assert (message.attached, message.state, message.wording) == (slip, "waiting", "expected")
    assert tasks.send_waiting() == 1
    [(name, data, kind)] = mail.outbox[0].attachments
    assert (data, kind) == (vault.get(slip.sha256), "application/pdf")
    assert name.endswith(".pdf")
    assert str(case) in name


def test_a_slip_that_was_printed_alike_before_is_sent_as_it_is(counter, case, make):
    slip = print_packing_slip(case, by=make.everyone(), size="A4")
    counter.post(f"/updates/{case}/packing-slip/", typed())
    assert Message.objects.get().attached == slip


@pytest.mark.parametrize(("wrong", "said"), [({"to": "vale"}, "address"), ({"body": "[[when]]"}, "Still to be")])
def test_a_mail_that_is_not_right_comes_back_as_typed(counter, case, wrong, said):
    answer = counter.post(f"/updates/{case}/packing-slip/", typed(**wrong))
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Message.objects.exists()


def test_the_message_says_what_went_along(counter, case):
    counter.post(f"/updates/{case}/packing-slip/", typed())
    page = counter.get(f"/updates/messages/{Message.objects.get().pk}/").content.decode()
    assert Paper.objects.get().get_absolute_url() in page


def test_a_paper_of_another_case_is_never_sent(make, case):
    slip = print_packing_slip(make.expected(), by=make.everyone(), size="A4")
    with pytest.raises(NotOfThisCase):
        send_update(case=case, **typed(), attached=slip, by=make.everyone(), happened=NOON)


def test_a_paper_that_was_changed_on_the_disk_is_not_sent(counter, case):
    counter.post(f"/updates/{case}/packing-slip/", typed())
    stored = vault.path(Paper.objects.get().sha256)
    stored.chmod(0o600)
    stored.write_bytes(b"%PDF-1.7 other")
    assert tasks.send_waiting() == 0
    message = Message.objects.get()
    assert (message.state, mail.outbox) == ("failed", [])
    assert "changed on the disk" in message.error
    stored.unlink()  # other tests may print the same paper
