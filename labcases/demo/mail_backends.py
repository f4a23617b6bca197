"""The demo's mail server: it keeps every mail on a page instead of sending it."""

from __future__ import annotations

import smtplib
from collections.abc import Sequence

from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend

from labcases.demo.models import DemoMail

NOBODY = "@nobody.example.com"  # so that one can see in the demo what a refused address looks like


class Mailbox(BaseEmailBackend):
    """An e-mail backend of Django. Addresses at nobody.example.com are refused, as a mail server would."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        for mail in email_messages:
            refused = {to: (550, b"No such mailbox") for to in mail.recipients() if to.endswith(NOBODY)}
            if refused:
                raise smtplib.SMTPRecipientsRefused(refused)
            DemoMail.objects.create(
                sender=mail.from_email,
                to=", ".join(mail.recipients()),
                subject=str(mail.subject),
                body=str(mail.body),
                source=mail.message().as_string(),
            )
        return len(email_messages)
