"""A scan of a signed paper, as it is sent."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from labcases.cases.scans.judging import NotAScan, Scan, judge
from labcases.core.forms import HappenedField, LabForm, LineField
from labcases.custody.photos.pictures import MOST_BYTES

ACCEPTED = "application/pdf,image/jpeg,image/png,image/webp"


class ScanField(forms.FileField):
    """A picture or a PDF of a paper; gives a Scan, None when nothing was chosen."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("label", "Scan of the signed paper")
        kwargs.setdefault("help_text", "A PDF, or a photo of the page. It is kept as it is, with its hash.")
        kwargs.setdefault("widget", forms.FileInput(attrs={"accept": ACCEPTED}))
        super().__init__(allow_empty_file=True, **kwargs)

    def clean(self, data: UploadedFile | None, initial: Any = None) -> Scan | None:
        sent = super().clean(data, initial)
        if not sent:
            return None
        if sent.size > MOST_BYTES:
            raise forms.ValidationError(
                f"It has {sent.size // 1_000_000} MB; up to {MOST_BYTES // 1_000_000} MB can be taken in. Scan it "
                "with fewer dots."
            )
        try:
            return judge(sent.read())
        except NotAScan as mistake:
            raise forms.ValidationError(str(mistake)) from None


class SignedPaperForm(LabForm):
    """The scan of a paper that was signed before."""

    scan = ScanField(error_messages={"required": "Choose the scan: a PDF, or a photo of the page."})
    happened = HappenedField()


class WithdrawPaperForm(LabForm):
    """Why a scan is not shown any more."""

    because = LineField(label="Why", max_length=200, error_messages={"required": "Say why: another paper, blurred …"})
    happened = HappenedField()
