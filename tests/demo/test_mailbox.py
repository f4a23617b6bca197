"""The demo's mailbox; its addresses exist only in a demo, so these tests bring an address book of their own."""

from __future__ import annotations

import smtplib
from collections.abc import Callable

import pytest
from django.core.mail import EmailMessage
from django.test import Client
from django.urls import NoReverseMatch, include, path, reverse

from labcases import urls as real
from labcases.demo import urls as demo
from labcases.demo.mail_backends import Mailbox
from labcases.demo.models import DemoMail
from labcases.lab.roles import Role

urlpatterns = [path("", include((demo.pages, "demo"))), *real.urlpatterns]


def mail(to: str = "vale@example.com") -> EmailMessage:
    return EmailMessage("Žofie, it is ready", "Dear Žofie,\n<b>ready</b>", "Quayside <desk@example.com>", [to])


@pytest.mark.django_db
def test_the_mailbox_keeps_what_would_have_gone_out() -> None:
    assert Mailbox().send_messages([mail(), mail("brack@example.com")]) == 2
    kept = DemoMail.objects.get(to="vale@example.com")
    assert (kept.subject, kept.sender) == ("Žofie, it is ready", "Quayside <desk@example.com>")
    assert "Subject: =?utf-8?" in kept.source


@pytest.mark.django_db
def test_an_address_that_nobody_has_is_refused_as_a_server_would() -> None:
    with pytest.raises(smtplib.SMTPRecipientsRefused):
        Mailbox().send_messages([mail("orrin@nobody.example.com")])
    assert not DemoMail.objects.exists()


@pytest.mark.urls(__name__)
def test_the_pages_show_the_mails_and_nothing_in_them_runs(client_as: Callable[..., Client]) -> None:
    Mailbox().send_messages([mail()])
    client = client_as(Role.AUDITOR)
    assert "Žofie, it is ready" in client.get(reverse("demo:mailbox")).content.decode()
    page = client.get(reverse("demo:mail", args=[DemoMail.objects.get().pk])).content.decode()
    assert "&lt;b&gt;ready&lt;/b&gt;" in page
    assert "<b>ready</b>" not in page


def test_a_real_lab_has_no_mailbox() -> None:
    with pytest.raises(NoReverseMatch):
        reverse("demo:mailbox")
