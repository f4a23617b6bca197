"""A party: a person or a firm that owns, brings or pays."""

from __future__ import annotations

import uuid
from typing import Any

from django.db import models
from django.db.models import Q
from django.urls import reverse

from labcases.core.models import Line, Prose, now
from labcases.core.text import folded


class PartyQuerySet(models.QuerySet["Party"]):
    def found_by(self, words: str) -> PartyQuerySet:
        """Parties whose name, firm, e-mail or number holds every word.

        Four digits or more are looked for as the end of a number too.
        """
        found = self
        for word in folded(words).split():
            digits = "".join(c for c in word if c.isdigit())
            by_number = Q(phone__endswith=digits) if len(digits) >= 4 and digits == word.strip("+") else Q(pk__in=())
            found = found.filter(Q(searched__contains=word) | by_number)
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
    searched = Prose(personal=True, editable=False)
    created = models.DateTimeField(default=now, editable=False)

    objects = PartyQuerySet.as_manager()

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
        ]

    def __str__(self) -> str:
        return self.company or self.name

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.searched = folded(" ".join((self.name, self.company, self.email, self.phone)))
        if (fields := kwargs.get("update_fields")) is not None:
            kwargs["update_fields"] = {*fields, "searched"}
        super().save(*args, **kwargs)

    def get_absolute_url(self) -> str:
        return reverse("people:party", args=[self.pk])
