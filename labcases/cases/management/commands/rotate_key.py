"""Replace the lab's key for secrets."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from labcases.cases.secrecy.actions import replace_lab_key
from labcases.core.refused import Refused
from labcases.lab.models import Actor


class Command(BaseCommand):
    help = (
        "Replaces the lab's key for secrets and wraps every case's key anew; no secret is opened. A lab that is given "
        "its key sets SECRETS_KEY to the new and SECRETS_KEY_BEFORE to the present one first. Safe to repeat."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            count = replace_lab_key(by=Actor.worker(), happened=timezone.now())
        except Refused as refused:
            raise CommandError(" ".join(refused.sentences())) from None
        self.stdout.write(
            f"The key is replaced; {count} wrapped anew. Backups from before need the former key: keep it."
        )
