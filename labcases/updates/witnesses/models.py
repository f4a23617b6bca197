"""One mail to a witness, a row before it is sent."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from labcases.core.models import Line, now
from labcases.custody.models import KeptHead


class HeadMail(models.Model):
    """A signed head on its way to one address; the worker sends it and tries again, as with every mail."""

    head = models.ForeignKey(KeptHead, on_delete=models.PROTECT, related_name="mails")
    to = Line(personal=True, max_length=254)
    made = models.DateTimeField(default=now)
    due = models.DateTimeField(default=now)
    held_until = models.DateTimeField(null=True)
    tries = models.PositiveSmallIntegerField(default=0)
    sent = models.DateTimeField(null=True)
    error = Line(personal=True, max_length=300, blank=True)

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["due"], condition=Q(sent=None), name="head_mail_to_send")]
        constraints = [
            models.UniqueConstraint(
                fields=["head", "to"],
                name="one_mail_per_head_and_witness",
                violation_error_message="This witness was told this head already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.head} to {self.to}"
