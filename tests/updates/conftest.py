"""What tests of this room share: a mail in the outbox, and a mail server that fails."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.core.mail import EmailMessage

from labcases.updates.actions import send_update
from labcases.updates.models import Message
from tests.builders import NOON, Make


@pytest.fixture
def write(make: Make) -> Callable[..., Message]:
    """Put a mail into the outbox; everything about it may be said otherwise."""

    def put(**about: Any) -> Message:
        text = {"to": "vale@example.com", "subject": "It has arrived", "body": "Dear Orrin,\n\nit is here."}
        case = about.pop("case", None) or make.case()
        return send_update(case=case, **({"by": make.everyone(), "happened": NOON} | text | about))

    return put


@pytest.fixture
def server_says(monkeypatch: pytest.MonkeyPatch) -> Callable[[Exception | None], None]:
    """From now on sending a mail raises this; None: it works again."""
    real = EmailMessage.send

    def say(error: Exception | None) -> None:
        def send(self: EmailMessage, fail_silently: bool = False) -> int:
            if error is not None:
                raise error
            return real(self, fail_silently)

        monkeypatch.setattr(EmailMessage, "send", send)

    return say
