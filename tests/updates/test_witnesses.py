"""Witnesses outside are mailed the ledger's signed head; customers' mails carry it in a line at their end."""

from __future__ import annotations

import json
import re
from datetime import timedelta

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from django.core import mail
from django.utils import timezone

from labcases.custody.models import KeptHead, Witness
from labcases.custody.signing import SignedHead, message
from labcases.updates import retrying, tasks
from labcases.updates.actions import send_update
from labcases.updates.witnesses.models import HeadMail
from labcases.updates.witnesses.tasks import send_heads, tell_witnesses

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def witnessed(make):
    make.profile(email="desk@lab.example.com")
    make.case()
    Witness.objects.create(address="notary@example.org")


def test_a_witness_is_sent_the_signed_head_and_nothing_of_a_case(witnessed, make):
    assert tell_witnesses() == 1
    assert send_heads() == 1
    sent = mail.outbox[0]
    said = dict(re.findall(r"^([A-Z][\w, ]+): (\S+)$", sent.body, re.MULTILINE))
    head = KeptHead.objects.get()
    assert (said["Root"], said["Public key"], head.because) == (head.root, head.key, "sent to witnesses")
    signed = message(int(said["Events"]), said["Root"], said["Signed"])
    Ed25519PublicKey.from_public_bytes(bytes.fromhex(said["Public key"])).verify(
        bytes.fromhex(said["Signature, Ed25519"]), signed
    )
    assert "Vale" not in sent.body


def test_running_twice_tells_once(witnessed):
    assert (tell_witnesses(), tell_witnesses()) == (1, 0)
    assert (send_heads(), send_heads()) == (1, 0)
    assert len(mail.outbox) == 1


def test_without_witnesses_no_head_is_kept_for_them(make):
    make.case()
    assert tell_witnesses() == 0
    assert not KeptHead.objects.exists()


def test_a_server_that_is_down_is_asked_again(witnessed, monkeypatch):
    tell_witnesses()
    now = timezone.now()
    with monkeypatch.context() as broken:
        broken.setattr("django.core.mail.EmailMessage.send", lambda self: (_ for _ in ()).throw(TimeoutError()))
        assert send_heads(now) == 0
    row = HeadMail.objects.get()
    assert (row.tries, row.due, row.sent) == (1, now + retrying.WAITS[0], None)
    assert send_heads(now + timedelta(minutes=2)) == 1
    assert (HeadMail.objects.get().error, HeadMail.objects.get().tries) == ("", 2)


def test_a_mail_in_another_workers_hands_is_left_alone(witnessed):
    tell_witnesses()
    HeadMail.objects.update(held_until=timezone.now() + timedelta(minutes=1))
    assert send_heads() == 0


def test_a_customers_mail_carries_the_head_in_one_line_and_whole_for_a_program(make, noon):
    make.profile(email="desk@lab.example.com")
    case = make.case()
    update = send_update(
        case=case, to="vale@example.com", subject="Word", body="Read.", by=make.everyone(), happened=noon
    )
    tasks.send_waiting()
    sent, kept = mail.outbox[0], KeptHead.objects.get()
    words, closing = sent.body.rsplit("\n\n", 1)
    assert words == update.body == "Read."
    assert closing.count("\n") == 0
    assert (str(kept.size) in closing, kept.root in closing, "/custody/public-key/" in closing) == (True, True, True)
    assert SignedHead(**json.loads(sent.message()["Ledger-Head"])).holds()
