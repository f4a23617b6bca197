"""What the demo's mail server would have sent."""

from __future__ import annotations

from django.db import models

from labcases.core.models import Line, Prose, now


class DemoMail(models.Model):
    """A mail of the demo, as it would have gone out. A real lab keeps none here."""

    at = models.DateTimeField(default=now)
    sender = Line(personal=True, max_length=600)
    to = Line(personal=True, max_length=600)
    subject = Line(personal=True, max_length=600, blank=True)
    body = Prose(personal=True, blank=True)
    source = Prose(personal=True, help_text="the whole mail as it goes over the wire")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.subject
