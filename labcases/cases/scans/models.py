"""The scanned paper, with what was signed on it."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Q
from django.db.models.functions import Length
from django.db.models.lookups import Exact

from labcases.cases.scans.judging import PDF
from labcases.core.models import Line
from labcases.lab.models import Entry, TermsVersion


class SignedPaperQuerySet(models.QuerySet["SignedPaper"]):
    def standing(self) -> SignedPaperQuerySet:
        return self.filter(withdrawn=None)


class SignedPaper(Entry):
    """A scan of a paper with a signature: the file as it came, and the terms and items that stood on it."""

    case = models.ForeignKey("cases.Case", on_delete=models.PROTECT, related_name="signed_papers")
    terms = models.ForeignKey(TermsVersion, on_delete=models.PROTECT, related_name="+")
    terms_digest = Line(personal=False, max_length=64, help_text="SHA-256 of the text that was signed, hex")
    items: Any = models.JSONField(default=list, help_text="[[code, what it is]] as listed when it was kept")
    kind = Line(personal=False, max_length=10, help_text="PDF, JPEG, PNG or WebP, by content")
    size = models.PositiveIntegerField(help_text="bytes")
    original = Line(personal=True, max_length=64, help_text="digest of the file as it came")
    shown = Line(personal=True, max_length=64, blank=True, help_text="digest of the picture to look at")
    thumb = Line(personal=True, max_length=64, blank=True, help_text="digest of the small picture")
    withdrawn = models.DateTimeField(null=True, blank=True)
    withdrawn_because = Line(personal=True, max_length=200, blank=True)

    objects = SignedPaperQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["case", "original"],
                condition=Q(withdrawn=None),
                name="signed_paper_once_per_case",
                violation_error_message="This very file is with the case already.",
            ),
            models.CheckConstraint(
                condition=Q(Exact(Length("original"), 64)) & Q(Exact(Length("terms_digest"), 64)),
                name="signed_paper_has_its_digests",
                violation_error_message="A signed paper names its file and the signed text by 64 hexadecimal digits.",
            ),
            models.CheckConstraint(
                condition=Q(withdrawn=None) | ~Q(withdrawn_because=""),
                name="withdrawn_paper_says_why",
                violation_error_message="Say why this scan is withdrawn.",
            ),
        ]

    def __str__(self) -> str:
        return f"signed paper of {self.case}"

    @property
    def is_pdf(self) -> bool:
        return self.kind == PDF
