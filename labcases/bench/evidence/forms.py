"""The form of evidence: a choice for each photo."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from labcases.bench.models import Examination, FaultClass
from labcases.core.forms import HappenedField, LabForm
from labcases.custody.models import Photo

ELSE = "else"


class EvidenceForm(LabForm):
    """What each photo shows (fields ``photo-<key>``)."""

    happened = HappenedField()

    def __init__(self, *args: Any, examination: Examination, photos: Sequence[Photo], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.photos = photos
        faults = [(fault, FaultClass(fault).label) for fault in examination.faults]
        held = {one.photo_id: one.fault for one in examination.evidence.standing()}
        for photo in photos:
            self.fields[f"photo-{photo.pk}"] = forms.ChoiceField(
                label=f"{photo.alt}: shows",
                choices=[(ELSE, "nothing of these findings"), ("", "the findings as a whole"), *faults],
                required=False,
                initial=held.get(photo.pk, ELSE),
            )

    @property
    def rows(self) -> list[tuple[Photo, Any]]:
        return [(photo, self[f"photo-{photo.pk}"]) for photo in self.photos]

    def chosen(self) -> dict[Photo, str]:
        """The photos that show something, and what."""
        told = {photo: self.cleaned_data[f"photo-{photo.pk}"] for photo in self.photos}
        return {photo: fault for photo, fault in told.items() if fault != ELSE}
