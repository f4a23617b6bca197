"""Quotes and payments. Money is whole minor units of one currency; what was sent is never edited, only superseded."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.urls import reverse

from labcases.cases.models import Case
from labcases.core.models import Line, Prose
from labcases.lab.models import Entry


class Quote(Entry):
    """What the work will cost, and what counts as success."""

    class State(models.TextChoices):
        SENT = "sent", "waits for an answer"
        ACCEPTED = "accepted", "accepted"
        DECLINED = "declined", "declined"
        SUPERSEDED = "superseded", "superseded"

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="quotes")
    number = models.PositiveSmallIntegerField(help_text="counts within the case")
    state = Line(personal=False, max_length=12, choices=State.choices, default=State.SENT)
    lines = models.JSONField(help_text="[{words, amount}], amounts in minor units, before tax")
    tax_rate = models.PositiveIntegerField(default=0, help_text="basis points: 2000 is 20 %")
    net = models.PositiveBigIntegerField()
    tax = models.PositiveBigIntegerField()
    total = models.PositiveBigIntegerField()
    currency = Line(personal=False, max_length=3)
    success = Prose(personal=True, blank=True, help_text="which of the wanted things count as success")
    valid_until = models.DateField()
    answered = models.DateTimeField(null=True, blank=True)
    answer_by = Line(personal=True, max_length=300, blank=True)
    answer_how = Line(personal=True, max_length=300, blank=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["case", "number"],
                name="quote_number_once_per_case",
                violation_error_message="A quote of this number is in the case already.",
            ),
            models.UniqueConstraint(
                fields=["case"],
                condition=Q(state__in=["sent", "accepted"]),
                name="one_standing_quote_per_case",
                violation_error_message="A case has one standing quote; the earlier one is superseded first.",
            ),
            models.CheckConstraint(
                condition=Q(total=models.F("net") + models.F("tax")),
                name="quote_adds_up",
                violation_error_message="Net and tax add up to the total.",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["sent", "superseded"]) | (Q(answered__isnull=False) & ~Q(answer_by="")),
                name="answered_quote_says_who_and_when",
                violation_error_message="An answer to a quote says who gave it and when.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.case}/{self.number}"

    def get_absolute_url(self) -> str:
        return f"{reverse('docket:case', args=[self.case.thing.printed_code])}#quotes"


class Payment(Entry):
    """Money that came in (or, negative, went back)."""

    class Method(models.TextChoices):
        CASH = "cash", "cash"
        CARD = "card", "card"
        TRANSFER = "transfer", "transfer"
        OTHER = "other", "other"

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="payments")
    amount = models.BigIntegerField(help_text="minor units")
    currency = Line(personal=False, max_length=3)
    method = Line(personal=False, max_length=10, choices=Method.choices)
    note = Line(personal=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(amount=0), name="payment_is_not_zero", violation_error_message="A payment is not zero."
            )
        ]

    def __str__(self) -> str:
        return f"{self.amount} {self.currency}"

    def get_absolute_url(self) -> str:
        return f"{reverse('docket:case', args=[self.case.thing.printed_code])}#quotes"


class Settlement(Entry):
    """A balance that will not be paid at the counter: put on the account, or waived by a manager, with a reason."""

    class How(models.TextChoices):
        ACCOUNT = "account", "put on account"
        WAIVED = "waived", "waived"

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="settlements")
    how = Line(personal=False, max_length=10, choices=How.choices)
    amount = models.PositiveBigIntegerField(help_text="minor units")
    currency = Line(personal=False, max_length=3)
    because = Prose(personal=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(because=""),
                name="settlement_has_reason",
                violation_error_message="Say why, in a few words.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.how} {self.amount} {self.currency}"
