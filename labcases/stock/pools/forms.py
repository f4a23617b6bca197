"""What is said of a pool, of the room on it, and of an erasure."""

from __future__ import annotations

from typing import Any

from django import forms

from labcases.core.forms import HappenedField, LabForm, LineField, ProseField
from labcases.stock.measures import bytes_said
from labcases.stock.pools.models import Pool


class SizeField(LineField):
    """A size with its unit, read into bytes."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("help_text", "With its unit: 12 TB, 500 GB, 1.5 TiB, 4096 bytes.")
        super().__init__(max_length=40, widget=forms.TextInput(attrs={"class": "code"}), **kwargs)

    def clean(self, value: Any) -> int | None:
        text = super().clean(value)
        if not text:
            return None
        size = bytes_said(text)
        if size is None:
            raise forms.ValidationError(f"“{text}” is no size: a number and its unit, such as 500 GB.")
        return size


class PoolForm(LabForm):
    """A storage pool."""

    name = LineField(label="Name", max_length=100)
    where = LineField(label="Where", max_length=200, required=False, help_text="Which machine, which path.")
    capacity = SizeField(label="Room for images")
    in_use = forms.BooleanField(label="in use", required=False, initial=True)
    note = ProseField(label="Note", rows=2, max_length=2000, required=False)

    def __init__(self, *args: Any, pool: Pool | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.pool = pool

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        others = Pool.objects.exclude(pk=self.pool.pk) if self.pool else Pool.objects.all()
        if others.filter(name__iexact=name).exists():
            raise forms.ValidationError(f"There is a pool {name} already.")
        return name

    def told(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in ("name", "where", "capacity", "in_use", "note")}


class SizeForm(LabForm):
    """How much room to reserve."""

    size = SizeField(label="Reserve")
    because = ProseField(label="Why", rows=2, max_length=2000, required=False)
    happened = HappenedField()


class EraseForm(LabForm):
    """The erasure of a case's images by destroying their key."""

    encrypted_with = LineField(
        label="Closed with", max_length=200, help_text="What had encrypted the images with this key, with its version."
    )
    seen_how = LineField(
        label="Seen how", max_length=200, help_text="How you saw that they do not open without the key."
    )
    because = ProseField(label="Why", rows=2, max_length=2000)
    sure = forms.BooleanField(
        label="The key is destroyed for good, and with it every image of this case on any pool",
        error_messages={"required": "Tick that it is meant for good."},
    )
    happened = HappenedField()
