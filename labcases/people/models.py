"""A party: a person or a firm that owns, brings or pays."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from functools import reduce
from operator import or_
from typing import Any

from django.db import connections, models, transaction
from django.db.models import Q
from django.urls import reverse

from labcases.core.models import Batch, Line, Prose, ShownManager, now
from labcases.people.lookup import LONGEST, beginnings, words_of
from labcases.people.merging.models import PartyMerge  # noqa: F401 known to the room through here

LAST = "\U0010ffff"  # sorts behind every letter


class PartyQuerySet(models.QuerySet["Party"]):
    def standing(self) -> PartyQuerySet:
        """Records that have not gone into another."""
        return self.filter(merged_into=None)

    def found_by(self, typed: str) -> PartyQuerySet:
        """Parties of whom every typed word begins a word of the name, firm or e-mail, or ends the number."""
        wanted = beginnings(typed)
        found = self.standing() if wanted else self.none()
        for spellings in wanted:
            found = found.filter(pk__in=PartyWord.objects.beginning(spellings).values("party"))
        return found


class Party(models.Model):
    """Somebody outside: an owner, a bearer, a payer. The same row may be all three."""

    class Channel(models.TextChoices):
        EMAIL = "email", "e-mail"
        PHONE = "phone", "phone"
        CHAT = "chat", "chat"
        POST = "post", "letter"

    ref = models.UUIDField(default=uuid.uuid4, unique=True, editable=False, help_text="how the ledger calls this party")
    name = Line(personal=True, max_length=300)
    company = Line(personal=True, max_length=300, blank=True)
    phone = Line(personal=True, max_length=20, blank=True, db_index=True, help_text="E.164")
    email = models.EmailField(max_length=254, blank=True)
    address = Prose(personal=True, blank=True)
    country = Line(personal=True, max_length=2, blank=True)
    tax_number = Line(personal=True, max_length=60, blank=True)
    language = Line(personal=True, max_length=10, blank=True)
    channel = Line(personal=True, max_length=10, choices=Channel.choices, blank=True)
    on_account = models.BooleanField(default=False, help_text="is billed monthly")
    note = Prose(personal=True, blank=True)
    created = models.DateTimeField(default=now, editable=False)
    merged_into = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="merged_from", help_text="who this became"
    )

    batch = models.ForeignKey(Batch, null=True, on_delete=models.PROTECT, related_name="+", help_text="came in with it")

    objects = ShownManager.from_queryset(PartyQuerySet)()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(name=""),
                name="party_has_a_name",
                violation_error_message="Say who it is: a name is needed.",
            ),
            models.CheckConstraint(
                condition=~Q(phone="") | ~Q(email="") | ~Q(address=""),
                name="party_can_be_reached",
                violation_error_message="Say how to reach them: a phone number, an e-mail address or a postal address.",
            ),
            models.CheckConstraint(
                condition=Q(merged_into=None) | ~Q(merged_into=models.F("pk")),
                name="party_goes_into_another",
                violation_error_message="A record cannot go into itself.",
            ),
        ]

    def __str__(self) -> str:
        return self.company or self.name

    @transaction.atomic
    def save(self, *args: Any, **kwargs: Any) -> None:
        super().save(*args, **kwargs)
        self.keep_words()

    def get_absolute_url(self) -> str:
        return reverse("people:party", args=[self.pk])

    def keep_words(self) -> None:
        """Be found under the words of this record and of those that went into it; a merged one is not found."""
        fields = ("name", "company", "email", "phone")
        records = Party._base_manager.filter(Q(pk=self.pk, merged_into=None) | Q(merged_into=self.pk)).values_list(
            *fields
        )
        words = set[str]().union(*(words_of(*record) for record in records))
        known = set(self.words.values_list("word", flat=True))
        if gone := known - words:
            self.words.filter(word__in=gone).delete()
        PartyWord.objects.bulk_create([PartyWord(party=self, word=word) for word in sorted(words - known)])

    @property
    def stands_as(self) -> Party:
        """Who this customer is now: the record that this one went into, or itself. A merge leaves no chains."""
        return self.merged_into or self


class PartyWordQuerySet(models.QuerySet["PartyWord"]):
    def beginning(self, spellings: Iterable[str]) -> PartyWordQuerySet:
        """Words that begin with one of these, found by the index on either engine.

        SQLite sorts by code point and has no index for LIKE; PostgreSQL sorts by its locale and has one.
        """
        if connections[self.db].vendor == "sqlite":
            ranges = [Q(word__gte=begin, word__lt=begin + LAST) for begin in spellings]
        else:
            ranges = [Q(word__startswith=begin) for begin in spellings]
        return self.filter(reduce(or_, ranges))


class PartyWord(models.Model):
    """One word under which a party is found (``people.lookup``)."""

    party = models.ForeignKey(Party, on_delete=models.CASCADE, related_name="words")
    word = Line(personal=True, max_length=LONGEST + 1, db_index=True)

    objects = PartyWordQuerySet.as_manager()

    class Meta:
        ordering = ["word", "pk"]
        indexes = [
            # Of two words the second is asked of each party the first found: both answers come from an index alone.
            models.Index(fields=["party", "word"], name="words_of_a_party"),
            models.Index(fields=["word", "party"], name="parties_of_a_word"),
        ]

    def __str__(self) -> str:
        return self.word
