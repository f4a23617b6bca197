"""What the worker does for the witnesses: every day one mail each with the ledger's head."""

from __future__ import annotations

import logging
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from typing import Any

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction
from django.db.models import F, Q, QuerySet
from django.urls import reverse
from django.utils import timezone

from labcases.custody.actions import keep_head
from labcases.custody.models import Witness
from labcases.lab.models import Profile
from labcases.updates import retrying
from labcases.updates.tasks import domain_of, hindrance, mail_from_lab, where_to_check
from labcases.updates.witnesses import wording
from labcases.updates.witnesses.models import HeadMail

log = logging.getLogger(__name__)
LEASE = timedelta(minutes=5)
BATCH = 20


def tell_witnesses() -> int:
    """Keep today's head and put a mail for each witness into the outbox; how many are new. Safe to run twice."""
    addresses = list(Witness.objects.values_list("address", flat=True))
    kept = keep_head(because="sent to witnesses") if addresses else None
    if kept is None:
        return 0
    told = [HeadMail.objects.get_or_create(head=kept, to=address)[1] for address in addresses]
    return sum(told)


def send_heads(now: datetime | None = None) -> int:
    """Send the mails to witnesses that are due; how many went out. Call it outside any transaction."""
    if hindrance():
        return 0
    due = _to_send(now or timezone.now()).order_by("due", "pk")
    return sum(_send_one(pk, now or timezone.now()) for pk in list(due.values_list("pk", flat=True)[:BATCH]))


def _to_send(now: datetime) -> QuerySet[HeadMail]:
    free = Q(held_until=None) | Q(held_until__lt=now)
    return HeadMail.objects.filter(free, sent=None, due__lte=now, tries__lt=retrying.TRIES)


def _send_one(pk: int, now: datetime) -> int:
    with transaction.atomic(durable=True):
        mine = _to_send(now).filter(pk=pk).update(held_until=now + LEASE, tries=F("tries") + 1)
    if not mine:
        return 0
    row = HeadMail.objects.select_related("head").get(pk=pk)
    try:
        letter(row).send()
    except (OSError, ValueError) as error:
        said = retrying.trouble(error)
        log.warning("Head mail %s was not sent, try %s: %s", pk, row.tries, said.sentence)
        wait = None if said.for_good else retrying.next_try(row.tries)
        tries: dict[str, Any] = {"tries": retrying.TRIES} if wait is None else {"due": now + wait}
        HeadMail.objects.filter(pk=pk).update(held_until=None, error=said.sentence[:300], **tries)
        return 0
    HeadMail.objects.filter(pk=pk).update(held_until=None, sent=now, error="")
    return 1


def letter(row: HeadMail) -> EmailMessage:
    """The mail to a witness; sent twice, it is the same mail."""
    head, lab = row.head.as_signed().as_record(), Profile.current()
    subject = f"Custody ledger of {lab.name}: {row.head.size:,} events"
    named = f"<ledger-{row.head.size}-{row.pk}@{domain_of(lab)}>"
    headers = {"Message-ID": named, "Date": format_datetime(row.made.astimezone(UTC))}
    headers[wording.HEADER] = wording.header(head)
    page = settings.SITE_URL + reverse("custody:check")
    return mail_from_lab(lab, subject, wording.to_witness(head, lab.name, where_to_check(), page), row.to, headers)
