"""Fields that only the stockroom has: a case, the size of a medium, the day it was made."""

from __future__ import annotations

from typing import Any

from django import forms

from labcases.cases.forms.inside import COPIED
from labcases.cases.models import Case
from labcases.core import codes
from labcases.core.forms import CountField, LineField
from labcases.media import capacity

SECTOR_SIZES = [(size, f"{size:,} bytes") for size in (512, 520, 528, 4096, 4160)]
MOST_SECTORS = 2**50  # of 4160 bytes each they still count in 63 bits


class CaseField(LineField):
    """The code of a case; cleans to the case, None when nothing is said."""

    widget = forms.TextInput(attrs=COPIED)

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=40, required=False, **kwargs)

    def clean(self, value: Any) -> Case | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            read = codes.parse(text)
        except codes.MistypedCode as mistake:
            raise forms.ValidationError(str(mistake)) from None
        found = Case.objects.with_people().filter(thing__code=read.folded).first()
        if found is None:
            raise forms.ValidationError(f"There is no case {read.printed}.")
        return found


class SizeFields(forms.Form):
    """Sectors as the medium reports them, or the gigabytes printed on it (SFF-8447)."""

    sectors = CountField(
        label="Sectors",
        required=False,
        min_value=1,
        max_value=MOST_SECTORS,
        error_messages={"min_value": "A medium has at least one sector.", "invalid": "Write a whole number."},
    )
    gigabytes = CountField(
        label="or printed GB",
        required=False,
        min_value=1,
        max_value=10**7,
        help_text="When the sectors cannot be read off: the count a disk sold as so many GB has.",
    )
    sector_bytes = forms.TypedChoiceField(
        label="A sector is", choices=SECTOR_SIZES, coerce=int, initial=512, widget=forms.RadioSelect
    )

    def count_sectors(self, said: dict[str, Any]) -> None:
        """Turn printed gigabytes into sectors; only one of the two can be said."""
        gigabytes = said.pop("gigabytes", None)
        if not gigabytes or "sectors" in self.errors or "sector_bytes" in self.errors:
            return
        if said.get("sectors"):
            self.add_error("gigabytes", "Say either the sectors or the printed gigabytes.")
            return
        try:
            said["sectors"] = capacity.sectors_for(gigabytes, said["sector_bytes"])
        except capacity.NotACapacity as wrong:
            self.add_error("gigabytes", f"{wrong} Type the sectors instead.")
