"""Frozen copies: what was printed, byte for byte. A paper is never edited; a changed one is another paper."""

from __future__ import annotations

from typing import Any, NoReturn

from django.db import models
from django.db.models import Q
from django.db.models.functions import Length
from django.db.models.lookups import Exact
from django.urls import reverse

from labcases.core.models import Line
from labcases.core.refused import Refused
from labcases.lab.models import Entry


class PaperIsFrozen(Refused):
    """Somebody tried to change or remove a printed paper."""

    def __init__(self) -> None:
        super().__init__(
            "A printed paper is never changed or removed.",
            why="It may be in somebody's hands; the copy here must stay the same.",
            mend="Print a new one; both stay on file.",
        )


class PaperQuerySet(models.QuerySet["Paper"]):
    def of_case(self, case_code: str) -> PaperQuerySet:
        """Every paper of a case, newest first."""
        return self.filter(case_code=case_code).select_related("by")

    def update(self, **kwargs: Any) -> NoReturn:
        raise PaperIsFrozen

    def delete(self) -> NoReturn:
        raise PaperIsFrozen


class Paper(Entry):
    """A printed paper. ``happened`` is when it was issued; its bytes lie in the vault under ``sha256``.

    ``key`` says what makes two prints the same paper (``intake-form/26-00417-D/1``): asked for again with the same
    key, the stored bytes come back.
    """

    class Size(models.TextChoices):
        A4 = "A4", "A4"
        LETTER = "Letter", "Letter"

    key = Line(personal=False, max_length=200)
    kind = Line(personal=False, max_length=40, help_text="intake-form, handover-report …")
    code = Line(personal=False, max_length=30, blank=True, help_text="as printed in its head")
    title = Line(personal=False, max_length=200)
    language = Line(personal=False, max_length=35, help_text="BCP 47")
    size = Line(personal=False, max_length=10, choices=Size.choices)
    sha256 = Line(personal=False, max_length=64, help_text="of the bytes, hex; also where they lie in the vault")
    template_version = Line(personal=False, max_length=64)
    thing = models.ForeignKey("custody.Thing", null=True, on_delete=models.PROTECT, related_name="papers")
    case_code = Line(personal=False, max_length=30, blank=True, db_index=True, help_text="folded")

    objects = PaperQuerySet.as_manager()

    class Meta:
        ordering = ["-happened", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["key"], name="paper_once", violation_error_message="This paper was already printed."
            ),
            models.CheckConstraint(
                condition=~Q(key="") & ~Q(kind="") & ~Q(title="") & ~Q(language="") & ~Q(template_version=""),
                name="paper_says_what_it_is",
                violation_error_message="A paper has a key, a kind, a title, a language and a template version.",
            ),
            models.CheckConstraint(
                condition=Q(Exact(Length("sha256"), 64)),
                name="paper_has_its_digest",
                violation_error_message="A paper names its stored bytes by 64 hexadecimal digits.",
            ),
            models.CheckConstraint(
                condition=Q(size__in=["A4", "Letter"]),
                name="paper_size_known",
                violation_error_message="A paper is A4 or Letter.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.title} {self.code}".rstrip()

    @property
    def file_name(self) -> str:
        return f"{self.code} {self.title}.pdf".strip()

    def get_absolute_url(self) -> str:
        return reverse("paper:show", args=[self.pk])

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise PaperIsFrozen
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise PaperIsFrozen
