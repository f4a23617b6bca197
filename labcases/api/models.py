"""Bench computers and their tokens, what they sent in parts, and who knocked with a wrong token.

What can never be false: a token is kept as its hash alone; a part of a transfer has one content; a transfer becomes one
upload, or one list of files, at most.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import Any

from django.db import models
from django.db.models import Q

from labcases.api.scopes import SCOPES
from labcases.bench.files.models import FileList
from labcases.bench.reading.models import CoverageUpload
from labcases.cases.models import Item
from labcases.core.models import Line, now
from labcases.core.refused import NotAllowed
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right, Role

DIGEST: dict[str, Any] = {"personal": False, "max_length": 64}


class BenchComputerQuerySet(models.QuerySet["BenchComputer"]):
    def admitted(self) -> BenchComputerQuerySet:
        return self.filter(revoked=None)


class BenchComputer(Entry):
    """A computer at the bench that a manager let in."""

    ref = models.UUIDField(default=uuid.uuid4, unique=True, editable=False, help_text="how the ledger calls it")
    name = Line(personal=False, max_length=100)
    digest = Line(**DIGEST, unique=True, help_text="SHA-256 of its token, hex; the token has 256 random bits")
    begins = Line(personal=False, max_length=12, help_text="how its token begins, to know it by")
    scopes = models.JSONField(default=list, help_text="what it may do, of api/scopes.py")
    last_used = models.DateTimeField(null=True)
    revoked = models.DateTimeField(null=True)

    objects = BenchComputerQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["name"],
                condition=Q(revoked=None),
                name="one_bench_computer_of_a_name",
                violation_error_message="A bench computer of this name is admitted already.",
            )
        ]

    def __str__(self) -> str:
        return f"bench computer {self.name}"

    @property
    def scope_words(self) -> list[str]:
        return [words for scope, words in SCOPES.items() if scope in self.scopes]

    @property
    def actor(self) -> ComputerActor:
        return ComputerActor(None, Role.WORKER, self)


@dataclass(frozen=True)
class ComputerActor(Actor):
    """A bench computer as the *by* of what it records: no person, and no more than the work at the bench."""

    computer: BenchComputer

    @property
    def ref(self) -> str:
        return str(self.computer.ref)

    @property
    def name(self) -> str:
        return str(self.computer)

    def may(self, right: Right) -> bool:
        return right in (Right.LOOK, Right.EXAMINE)

    def must(self, right: Right) -> None:
        if not self.may(right):
            raise NotAllowed(f"A bench computer may not {right.value}.", mend="Let somebody of the staff do it.")


class Knock(models.Model):
    """How often somebody came with a wrong token, by address and stretch of time."""

    address = Line(personal=True, max_length=45, help_text="where the request came from")
    since = models.DateTimeField()
    count = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["address", "since"],
                name="one_count_of_knocks",
                violation_error_message="Knocks of this address and time are counted already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.count} knocks"


class Sent(models.Model):
    """What a bench computer sent under a key of its own, so that sending it again does nothing new."""

    computer = models.ForeignKey(BenchComputer, on_delete=models.PROTECT, related_name="sent")
    key = models.UUIDField()
    content = Line(**DIGEST, help_text="SHA-256 of what was sent, hex")
    result = models.JSONField(default=dict, help_text="what was answered")
    when = models.DateTimeField(default=now)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["computer", "key"],
                name="sent_once_under_a_key",
                violation_error_message="This key was used already.",
            )
        ]

    def __str__(self) -> str:
        return f"sent {self.key}"


class Transfer(models.Model):
    """What comes in parts under a key of the sender; it becomes one upload, or one list, when all parts are there."""

    class What(models.TextChoices):
        COVERAGE = "coverage", "spans that were read"
        FILES = "files", "a list of files"

    what = Line(personal=False, max_length=10, choices=What.choices, default=What.COVERAGE)
    computer = models.ForeignKey(BenchComputer, on_delete=models.PROTECT, related_name="transfers")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="transfers")
    key = models.UUIDField()
    begun = models.DateTimeField(default=now)
    upload = models.OneToOneField(CoverageUpload, null=True, on_delete=models.PROTECT, related_name="transfer")
    file_list = models.OneToOneField(FileList, null=True, on_delete=models.PROTECT, related_name="transfer")
    finished_as = Line(**DIGEST, blank=True, help_text="SHA-256 over how it was finished, hex")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["computer", "key"],
                name="one_transfer_under_a_key",
                violation_error_message="A transfer has this key already.",
            ),
            models.CheckConstraint(
                condition=Q(what="coverage", file_list=None) | Q(what="files", upload=None),
                name="transfer_becomes_what_it_is",
                violation_error_message="Spans become an upload, a list of files becomes a list.",
            ),
        ]

    def __str__(self) -> str:
        return f"transfer {self.key}"

    @property
    def done(self) -> bool:
        return bool(self.upload_id or self.file_list_id)


class TransferPart(models.Model):
    """One part of a transfer; its bytes lie in the vault."""

    transfer = models.ForeignKey(Transfer, on_delete=models.CASCADE, related_name="parts")
    number = models.PositiveIntegerField(help_text="counts from 1")
    digest = Line(**DIGEST, help_text="SHA-256 of its bytes, unpacked, hex")
    size = models.PositiveBigIntegerField()
    kind = Line(personal=False, max_length=30, help_text="media type")
    offset = models.PositiveBigIntegerField(null=True, help_text="bytes before it, as the sender said")
    came = models.DateTimeField(default=now)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(
                fields=["transfer", "number"],
                name="one_part_of_a_number",
                violation_error_message="This part is there already.",
            ),
            models.CheckConstraint(
                condition=Q(number__gte=1),
                name="parts_count_from_one",
                violation_error_message="Parts are counted from 1.",
            ),
        ]

    def __str__(self) -> str:
        return f"part {self.number}"
